"""Photographs to what we know of this face."""
