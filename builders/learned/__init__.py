"""What is learned: the net that sees a face, and how the landmarker errs."""
