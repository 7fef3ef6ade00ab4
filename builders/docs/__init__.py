"""Pages and pictures of the documentation that are made, not written."""
