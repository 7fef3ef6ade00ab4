"""Invented sitters with strand hair, skin and clothes, and path-traced frames of them."""
