"""What the sitter hears: their own side, one move at a time, kind, in the order of a body."""

import re

import numpy as np
import pytest
from hypothesis import given
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.scene.setup import Setup
from sitwell.sheet.figures import NECK_PIVOT_MM
from sitwell.sheet.nudges import SITTER_MOVES, nudge_words
from sitwell.sheet.words import beside_the_lens_mm, body_turn_deg, sitter_words

from .samples import GRID, SETUPS

# Never named in front of a sitter (trade: common practice, no source).
BANNED = (
    "hide|hidden|big|bigger|large|problem|bad|flaw|ugly|fix|correct|wrong|worse|worst|fat|fault|"
    "thin|bald|old|age|wrinkle|defect|disguise|conceal|slim|double chin|weak|crooked|uneven|"
    "unflattering|mistake|don't|not|never"
)
ORDER = ("feet, body", "shoulders", "turn", "chin", "tilt", "eyes", "breath")


def spoken(setup):
    return " ".join(word.sentence for word in sitter_words(setup))


def sentence(setup, part):
    return [word.sentence for word in sitter_words(setup) if word.part == part]


def assert_kind(text):
    assert not re.search(rf"\b({BANNED})\b", text, re.IGNORECASE), text


def assert_sides_named(text):
    for match in re.finditer(r"\b(left|right)\b", text):
        assert text[: match.start()].endswith(("your ", "camera ", "own ")), text


@pytest.mark.parametrize("setup", GRID)
def test_every_sentence_is_kind_and_names_whose_side(setup):
    assert_kind(spoken(setup))
    for word in sitter_words(setup):
        assert_sides_named(word.sentence)
        assert_sides_named(word.show)


@given(setup=SETUPS)
def test_every_sentence_of_any_setup_is_kind_short_and_in_order(setup):
    words = sitter_words(setup)
    parts = [ORDER.index(word.part) for word in words]
    assert parts == sorted(parts)
    for word in words:
        assert_kind(word.sentence)
        assert_sides_named(word.sentence)
        assert len(word.sentence.split()) <= 18
        assert "camera" not in word.sentence


@pytest.mark.parametrize("turn_deg", [7.0, 22.0, 30.0])
@pytest.mark.parametrize(("sign", "own", "camera"), [(1, "left", "right"), (-1, "right", "left")])
def test_a_turn_is_to_the_own_side_and_shown_as_in_a_mirror(turn_deg, sign, own, camera):
    # Positive turn is the sitter's own left, camera right (the frame of the trade).
    (turn,) = [w for w in sitter_words(Setup(turn_deg=sign * turn_deg)) if w.part == "turn"]
    assert f"your {own}" in turn.sentence
    assert f"camera {camera}" in turn.show
    assert f"your {camera}" not in turn.sentence
    assert f"camera {own}" not in turn.show


def test_a_tilt_leans_to_the_sitters_own_side():
    assert "your left shoulder" in sentence(Setup(tilt_deg=6.0), "tilt")[0]
    assert "your right shoulder" in sentence(Setup(tilt_deg=-6.0), "tilt")[0]


def test_chin_up_and_down_are_said_as_such():
    assert sentence(Setup(chin_deg=6.0), "chin") == ["Lift your chin a little."]
    assert sentence(Setup(chin_deg=-3.0), "chin") == ["Let your chin come down a touch."]


def test_forward_is_asked_of_the_forehead():
    assert sentence(Setup(chin_forward_mm=10.0), "chin") == [
        "Bring your forehead toward the lens a touch."
    ]


@given(setup=SETUPS)
def test_mirroring_a_setup_swaps_the_sides_and_nothing_else(setup):
    mirrored = setup.with_changes(
        turn_deg=-setup.turn_deg,
        tilt_deg=-setup.tilt_deg,
        key_azimuth_deg=-setup.key_azimuth_deg,
    )
    swap = {"left": "right", "right": "left"}
    swapped = re.sub(r"\b(left|right)\b", lambda m: swap[m.group()], spoken(setup))
    assert swapped == spoken(mirrored)


def test_moves_too_small_to_make_are_not_spoken():
    small = Setup(turn_deg=1.0, chin_deg=-1.0, tilt_deg=1.0, chin_forward_mm=2.0)
    assert [w.part for w in sitter_words(small)] == ["feet, body", "shoulders", "eyes", "breath"]
    assert sitter_words(small) == sitter_words(Setup())


@pytest.mark.parametrize("height_mm", [-400.0, 400.0])
def test_the_lens_height_is_not_the_sitters_business(height_mm):
    assert sitter_words(Setup(camera_height_mm=height_mm)) == sitter_words(Setup())


@pytest.mark.parametrize(("turn_deg", "step"), [(3.0, "a touch"), (7.0, "a little")])
def test_small_turns_are_told_in_natural_steps(turn_deg, step):
    # "a touch" about 3 degrees, "a little" about 7 (common practice, no source)
    assert sentence(Setup(turn_deg=turn_deg), "turn")[0].endswith(f", {step}.")


@given(setup=SETUPS)
def test_no_turn_is_told_in_parts_of_a_turn(setup):
    # people turn by 90 degrees (common practice, no source)
    for word in sitter_words(setup):
        assert not re.search(r"\b(quarter|half|eighth|third)\b|degree|°", word.sentence)


def turn_word(distance_mm, turn_deg, light="", **changes):
    setup = Setup(distance_mm=distance_mm, turn_deg=turn_deg, **changes)
    (word,) = [w for w in sitter_words(setup, light) if w.part == "turn"]
    return word


def test_a_larger_turn_is_to_the_hand_while_an_arm_reaches_and_then_to_a_mark():
    assert turn_word(1800, 20).sentence == "Point your nose at my hand, on your left."
    assert "hand: 66 cm (26 in) to camera right of the lens" in turn_word(1800, 20).show
    assert turn_word(1800, -30).sentence == "Point your nose at the mark on your right."
    assert "98 cm (38 in) to camera left of the lens" in turn_word(1800, -30).show
    assert "hand" in turn_word(1200, 30).sentence  # nearer, an arm reaches farther round


@pytest.mark.parametrize("distance_mm", [1200.0, 1800.0, 4000.0])
@pytest.mark.parametrize("turn_deg", [12.0, 25.0, 48.0, -20.0, -85.0])
@pytest.mark.parametrize("height_mm", [0.0, -400.0])
def test_the_nose_points_where_the_hand_or_mark_is_put(distance_mm, turn_deg, height_mm):
    """The place that two tapes tell, against the nose of a head turned about its neck."""
    setup = Setup(distance_mm=distance_mm, turn_deg=turn_deg, camera_height_mm=height_mm)
    away_mm = np.hypot(*setup.lens_mm()[[0, 2]])
    # as far from the eyes as the lens, and so far from the lens: an isosceles triangle
    around = 2 * np.arcsin(beside_the_lens_mm(setup) / 2 / away_mm) * np.sign(turn_deg)
    place = away_mm * np.array([np.sin(around), 0.0, np.cos(around)])
    to_place = place - NECK_PIVOT_MM * [1, 0, 1]
    nose = rotation_from_pose(turn_deg, 0.0, 0.0) @ [0.0, 0.0, 1.0]
    assert_allclose(to_place / np.linalg.norm(to_place), nose, atol=1e-9)


def test_the_key_is_the_mark_where_it_stands_in_the_turns_way():
    key = turn_word(1800, 30, key_azimuth_deg=32.0)
    assert key.sentence == "Point your nose at the light on your left, chin as it is."
    assert key.show == "show: nose to camera right, where the key stands"
    for elsewhere in (25.0, -30.0):
        assert "mark" in turn_word(1800, 30, key_azimuth_deg=elsewhere).sentence


@pytest.mark.parametrize("light", ["sun", "shade", "window"])
def test_nobody_points_their_nose_at_a_light_that_stays(light):
    assert "mark" in turn_word(1800, 30, light, key_azimuth_deg=30.0).sentence


def test_the_body_takes_part_of_a_large_turn_to_the_same_side():
    assert body_turn_deg(Setup(turn_deg=-40.0)) == -20.0
    assert body_turn_deg(Setup(turn_deg=12.0)) == 0.0
    assert "your right" in sentence(Setup(turn_deg=-40.0), "feet, body")[0]


def test_eyes_follow_the_nose_in_profile_or_when_they_look_ahead():
    assert "lens" in sentence(Setup(turn_deg=45.0), "eyes")[0]
    assert "nose" in sentence(Setup(turn_deg=85.0), "eyes")[0]
    assert "nose" in sentence(Setup(gaze="ahead"), "eyes")[0]


def test_a_pose_that_should_not_be_held_ends_in_rest():
    assert sentence(Setup(), "breath")[0].endswith("stay.")
    assert sentence(Setup(chin_deg=14.0), "breath")[0].endswith("rest.")


@pytest.mark.parametrize("move", SITTER_MOVES)
@pytest.mark.parametrize("difference", [-40.0, -9.0, -5.0, 5.0, 9.0, 40.0])
def test_nudges_to_the_sitter_are_kind_too(move, difference):
    said = nudge_words(move, difference)
    assert_kind(said)
    assert_sides_named(said)
    assert 0 < len(said.split()) <= 14
