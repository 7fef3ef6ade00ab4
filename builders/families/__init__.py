"""Heads of a second family, and sittings of both families drawn in seconds."""
