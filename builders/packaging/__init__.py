"""Pins, typefaces, known holes, and the bill of materials."""
