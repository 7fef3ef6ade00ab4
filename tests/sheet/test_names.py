import dataclasses

import pytest

from sitwell.brief.wishes import FEATURES
from sitwell.scene.measures import NAMES
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain
from sitwell.sheet.names import (
    becomes_words,
    measure_name,
    measure_value,
    move_name,
    move_range,
    move_value,
    why_words,
    wish_name,
)


@pytest.mark.parametrize("name", NAMES)
def test_no_measure_is_printed_as_a_code(name):
    for text in (measure_name(name), measure_value(name, 0.25), measure_value(name, float("nan"))):
        assert text
        assert "_" not in text
        assert "nan" not in text


def test_every_wish_and_move_has_a_name():
    for feature in FEATURES:
        assert "-" not in wish_name(feature)
    for field in dataclasses.fields(Setup):
        assert "_" not in move_name(field.name)


def test_a_wish_keeps_its_name_with_direction_and_weight_behind_it():
    assert wish_name("nose-length:soften:3") == wish_name("nose-length") == "nose, its length"


@pytest.mark.parametrize(
    ("move", "value", "words"),
    [
        ("turn_deg", 22.0, "22° own left"),
        ("turn_deg", -22.0, "22° own right"),
        ("turn_deg", 0.3, "0°"),
        ("key_azimuth_deg", -40.0, "40° camera left"),
        ("chin_deg", -5.0, "5° down"),
        ("camera_height_mm", 120.0, "12 cm (5 in) up"),
        ("camera_height_mm", 0.0, "at the eye line"),
        ("chin_forward_mm", 15.0, "1.5 cm (0.6 in)"),
        ("f_number", 2.8, "f/2.8"),
        ("fill_ratio", 3.0, "3:1"),
        ("background_stops", -1.5, "1.5 stops darker"),
        ("distance_mm", 1800.0, "1.80 m (5 ft 11 in)"),
    ],
)
def test_a_moves_value_carries_unit_and_side(move, value, words):
    assert move_value(move, value) == words


@pytest.mark.parametrize(
    ("measure", "value", "words"),
    [
        ("key_below_ceiling_mm", -350.0, "−35 cm (−14 in)"),
        ("focus_clearance_mm", 0.0, "0 cm (0 in)"),
        ("handheld_stops", -1.5, "−1.5 stops"),
        ("seen_turn_deg", -14.0, "14° own right"),
        ("seen_turn_deg", 14.0, "14° own left"),
        ("seen_chin_deg", -0.2, "0°"),
    ],
)
def test_a_measure_below_nothing_says_so(measure, value, words):
    assert measure_value(measure, value) == words


def test_a_range_names_a_shared_side_once():
    assert move_range("turn_deg", 18.0, 26.0) == ("18°", "26°", "own left")
    assert move_range("turn_deg", -8.0, 3.0) == ("8° own right", "3° own left", "")


def test_measures_carry_their_unit_and_the_sitters_own_side():
    assert measure_value("forehead_share", 0.335) == "33.5 %"
    assert measure_value("ear_contrast_own_left", -1.25) == "−1.2 stops"
    assert measure_value("catchlight_clock_own_left", 10.5) == "10.5 o’clock"
    assert measure_value("nose_length", 0.43) == "43 %"
    assert measure_value("near_far_stretch", 1.09) == "9 %"
    assert measure_value("ear_show_own_left", 0.4) == "40 %"
    assert measure_value("equivalent_mm", 85.0) == "85 mm"
    assert measure_value("blur_near_eye_coc", 1.0) == "just what passes as sharp"
    assert measure_value("blur_near_eye_coc", 0.4) == "0.4 times what passes as sharp"
    assert measure_name("ear_show_own_left") == "how much of the ear shows, sitter’s own left"
    assert measure_name("light_cheek_own_right_stops") == "light on the cheek, sitter’s own right"
    assert measure_value("nose_length", float("nan")) == "not in view"
    assert measure_value("catchlight_own_left", 1.0) == "there"


def test_a_bare_measure_as_a_reason_becomes_words_and_a_sentence_stays():
    assert why_words("eye_balance") == "smaller eye to larger eye"
    assert why_words("the nostrils open") == "the nostrils open"


def test_what_a_measure_becomes_is_a_range_where_several_heads_are_possible():
    gain = Gain(wish="ears", measure="ear_out_own_left", was=0.088, becomes=0.0, gain=4.0)
    assert becomes_words(gain) == "0 %"
    assert becomes_words(dataclasses.replace(gain, likely=(0.0, 0.03))) == "0 % to 3 %"
    assert becomes_words(dataclasses.replace(gain, likely=(0.0, 0.00001))) == "0 %"
