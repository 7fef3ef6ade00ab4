"""Sitwell plans a portrait from this sitter's face: pose, camera, light and crop together.

The folders are listed in the order of the work, and a folder imports only from those above it:
base, brief, face, head, scene, search, sheet, shoot, sort, store, ui.
``flow.py`` puts them together.
"""

__version__ = "0.1.0"
