"""What everything else is written in: units, rotations, errors, files."""
