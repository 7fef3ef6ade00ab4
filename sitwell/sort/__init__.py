"""Frames after the sitting."""
