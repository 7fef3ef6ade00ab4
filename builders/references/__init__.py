"""Values that other programs compute, kept for the tests."""
