"""The studio: what the camera would see of a head in a set-up."""
