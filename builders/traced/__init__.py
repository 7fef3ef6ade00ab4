"""Invented sitters in a path tracer, of another kind than the reading learned from."""
