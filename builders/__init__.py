"""Kept scripts that make bundled data; not part of the installed package."""
