"""A picture of this sitter, made from their own frames, in a set-up's pose, lens and light."""
