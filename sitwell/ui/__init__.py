"""Doors to flow.py: the command line and the pages."""
