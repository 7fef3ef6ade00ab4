"""Readers of files searched for what breaks them."""
