"""The pages: a local app that calls flow.py, with all its assets in this folder."""
