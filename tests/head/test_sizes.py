"""Lengths of a head come from its points, with the signs of the glossary."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.prior import shape_sigma
from sitwell.head.sizes import LID_SPREAD_MM, head_sizes, size_spreads
from sitwell.head.surface import build_head
from sitwell.head.template import load_template


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


def test_the_eye_ratio_is_own_left_over_own_right():
    assert head_sizes(build_head({"eye_opening_uneven": 0.3}))["eye_opening_ratio"] > 1.1
    assert_allclose(head_sizes(build_head())["eye_opening_ratio"], 1.0, atol=1e-3)


def test_every_size_has_a_spread_that_comes_from_the_shapes():
    shape = np.zeros(len(shape_sigma()))
    sure, unsure = (
        size_spreads(shape, scale**2 * np.diag(shape_sigma() ** 2), size_share=0.0)
        for scale in (0.25, 1.0)
    )
    assert set(sure) == set(head_sizes(build_head()))
    from_shapes = [name for name in sure if not name.startswith("eye_opening")]
    assert all(0 < sure[name] < 0.5 * unsure[name] for name in from_shapes)


def test_a_spread_along_one_slider_is_that_sliders():
    # 0.2 of nose_lean moves the tip by 0.2 * 3.17 mm (head_sizes of the head itself)
    index = load_template().shape_names.index("nose_lean")
    covariance = np.zeros((len(shape_sigma()),) * 2)
    covariance[index, index] = 0.2**2
    spread = size_spreads(np.zeros(len(covariance)), covariance, size_share=0.0)
    per_unit = head_sizes(build_head({"nose_lean": 1.0}))["nose_lean_mm"]
    widened = 1.25  # so that nine in ten truths lie within, as docs/reading.md tells
    assert_allclose(spread["nose_lean_mm"], widened * 0.2 * per_unit, rtol=0.15)
    assert spread["nose_width_mm"] < 0.05
    assert_allclose(spread["ear_out_own_left_mm"], 1.5, atol=0.01)  # a tragus that no mark holds


def test_measured_lids_have_their_own_spread():
    covariance = np.diag(shape_sigma() ** 2)
    seen = size_spreads(np.zeros(len(covariance)), covariance, size_share=0.0)
    assert seen["eye_opening_own_left_mm"] == LID_SPREAD_MM


def test_lengths_are_as_unsure_as_the_distance_between_the_pupils_and_ratios_are_not():
    covariance = np.zeros((len(shape_sigma()),) * 2)
    spread = size_spreads(np.zeros(len(covariance)), covariance, size_share=0.05)
    sizes = head_sizes(build_head())
    for name in ("interpupillary_mm", "nose_length_mm", "ear_length_own_left_mm"):
        assert_allclose(spread[name], 0.05 * sizes[name], rtol=2e-2)
    assert spread["eye_opening_ratio"] == 0.0


def test_an_unsure_hairline_makes_the_face_height_unsure_and_nothing_else():
    covariance = np.zeros((len(shape_sigma()),) * 2)
    sure, unsure = (
        size_spreads(
            np.zeros(len(covariance)), covariance, size_share=0.0,
            hairline_spread_mm=spread_mm,
        )
        for spread_mm in (0.0, 13.0)
    )  # fmt: skip
    assert unsure.pop("face_height_mm") == pytest.approx(13.0)
    sure.pop("face_height_mm")
    assert unsure == sure
