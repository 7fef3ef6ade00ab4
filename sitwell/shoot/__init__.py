"""Frames as they are made."""
