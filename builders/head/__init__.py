"""The mean head and its sliders, made from a CC0 body."""
