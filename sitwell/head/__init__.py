"""The face to a head in three dimensions, in millimetres."""
