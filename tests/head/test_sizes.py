"""Lengths of a head come from its points, with the signs of the glossary."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.sizes import head_sizes
from sitwell.head.surface import build_head


def test_the_mean_head_is_even():
    sizes = head_sizes(build_head())
    assert abs(sizes["nose_lean_mm"]) < 0.01
    for stem in ("ear_out", "ear_length", "eye_opening"):
        assert_allclose(sizes[f"{stem}_own_left_mm"], sizes[f"{stem}_own_right_mm"], rtol=1e-3)


def test_a_nose_that_leans_to_own_left_leans_positive():
    assert head_sizes(build_head({"nose_lean": 0.5}))["nose_lean_mm"] > 0.5
    assert head_sizes(build_head({"nose_lean": -0.5}))["nose_lean_mm"] < -0.5


@pytest.mark.parametrize(
    ("slider", "length"),
    [("nose_width", "nose_width_mm"), ("ear_wing", "ear_out_own_left_mm"),
     ("eye_opening", "eye_opening_own_right_mm"), ("mouth_width", "mouth_width_mm")],
)  # fmt: skip
def test_a_slider_moves_its_length(slider, length):
    small, large = (head_sizes(build_head({slider: v}))[length] for v in (-0.5, 0.5))
    assert large > small


def test_a_mirrored_face_has_its_sides_swapped():
    own_left = head_sizes(build_head({"ear_wing_own_left": 0.5}))
    own_right = head_sizes(build_head({"ear_wing_own_right": 0.5}))
    assert_allclose(own_left["ear_out_own_left_mm"], own_right["ear_out_own_right_mm"], rtol=1e-3)
    assert own_left["ear_out_own_left_mm"] > own_left["ear_out_own_right_mm"]
    assert np.isfinite(list(own_left.values())).all()
