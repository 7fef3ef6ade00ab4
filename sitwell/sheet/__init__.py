"""A plan to paper and speech."""
