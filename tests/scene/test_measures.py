import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from sitwell.head.surface import build_head
from sitwell.scene.measures import INDEX, MEASURES, NAMES, Evaluator, Measures, measure
from sitwell.scene.setup import Setup

PAGE = Path(__file__).resolve().parents[2] / "docs" / "measures.md"

# The names that plans, checks and files are written in: they may grow, not change.
PROMISED = [
    "forehead_share",
    "crown_share",
    "nose_length",
    "nose_width",
    "nose_bend",
    "nose_lean",
    "nose_break_cheek",
    "nose_break_lip",
    "nose_break_socket",
    "nose_break",
    "nostril_show",
    "ear_show_own_left",
    "ear_show_own_right",
    "ear_out_own_left",
    "ear_out_own_right",
    "ear_sliver",
    "ear_contrast_own_left",
    "ear_contrast_own_right",
    "eye_open_own_left",
    "eye_open_own_right",
    "eye_balance",
    "eye_size",
    "iris_cover_own_left",
    "iris_cover_own_right",
    "white_below_own_left",
    "white_below_own_right",
    "face_breadth",
    "under_chin",
    "jaw_edge",
    "near_far_stretch",
    "blur_near_eye_mm",
    "blur_far_eye_mm",
    "blur_nose_tip_mm",
    "blur_ear_own_left_mm",
    "blur_ear_own_right_mm",
    "blur_near_eye_coc",
    "blur_far_eye_coc",
    "blur_nose_tip_coc",
    "blur_ear_own_left_coc",
    "blur_ear_own_right_coc",
    "blur_near_eye_share",
    "blur_far_eye_share",
    "blur_nose_tip_share",
    "blur_ear_own_left_share",
    "blur_ear_own_right_share",
    "light_forehead_stops",
    "light_nose_ridge_stops",
    "light_nose_side_own_left_stops",
    "light_nose_side_own_right_stops",
    "light_cheek_own_left_stops",
    "light_cheek_own_right_stops",
    "light_ear_own_left_stops",
    "light_ear_own_right_stops",
    "light_under_chin_stops",
    "light_eye_own_left_stops",
    "light_eye_own_right_stops",
    "light_chin_stops",
    "nose_contrast_stops",
    "nose_shadow_angle_deg",
    "nose_shadow_length",
    "lit_side",
    "broadness",
    "catchlight_own_left",
    "catchlight_own_right",
    "catchlight_clock_own_left",
    "catchlight_clock_own_right",
    "glare_own_left_deg",
    "glare_own_right_deg",
    "skin_relief",
    "eye_line_share",
    "head_room_share",
    "crop_clearance",
]


@pytest.fixture(scope="module")
def head():
    return build_head()


def test_every_promised_measure_is_in_the_table():
    assert set(PROMISED) <= set(NAMES)


def test_names_are_unique_and_index_the_array():
    assert len(set(NAMES)) == len(NAMES)
    assert all(NAMES[index] == name for name, index in INDEX.items())


def test_each_meaning_is_one_sentence_and_each_unit_is_given():
    for row in MEASURES:
        assert row.meaning.endswith("."), row.name
        assert row.unit, row.name


def test_a_units_suffix_agrees_with_the_table():
    for row in MEASURES:
        for suffix, unit in (("_deg", "deg"), ("_mm", "mm"), ("_stops", "stops")):
            assert not row.name.endswith(suffix) or row.unit == unit, row.name


def test_the_page_of_measures_is_the_table():
    text = PAGE.read_text(encoding="utf-8").split("## The table")[1]
    rows = re.findall(r"^\| `(\w+)` \| (.+?) \| (.+) \|$", text, flags=re.MULTILINE)
    assert rows == [(row.name, row.unit, row.meaning) for row in MEASURES]


def test_measure_gives_the_evaluators_numbers_by_name(head):
    setup = Setup(turn_deg=12)
    named = measure(head, setup)
    assert isinstance(named, Mapping)
    assert list(named) == list(NAMES)
    np.testing.assert_array_equal(list(named.values()), Evaluator(head).evaluate(setup))


def test_an_unknown_measure_is_a_key_error(head):
    with pytest.raises(KeyError, match="beauty"):
        Measures(Evaluator(head).evaluate(Setup()))["beauty"]


def test_a_straight_on_mean_head_is_even(head):
    seen = measure(head, Setup(key_azimuth_deg=0))
    assert seen["nose_bend"] < 1e-4
    assert seen["eye_balance"] > 0.99
    assert abs(seen["ear_show_own_left"] - seen["ear_show_own_right"]) < 1e-3
    assert abs(seen["lit_side"]) < 0.01
    assert seen["nose_break"] > 0
