"""What the sitter hears: their own side, one move at a time, kind, in the order of a body."""

import re
from itertools import pairwise

import pytest
from hypothesis import given

from sitwell.scene.setup import Setup
from sitwell.sheet.nudges import SITTER_MOVES, nudge_words
from sitwell.sheet.words import body_turn_deg, sitter_words

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


def test_a_turn_is_toward_the_sitters_own_side_and_shown_as_in_a_mirror():
    # Positive turn is the sitter's own left, camera right (the frame of the trade).
    (left,) = [w for w in sitter_words(Setup(turn_deg=22.0)) if w.part == "turn"]
    (right,) = [w for w in sitter_words(Setup(turn_deg=-22.0)) if w.part == "turn"]
    assert "your left shoulder" in left.sentence
    assert "your right" not in left.sentence
    assert "camera right" in left.show
    assert "your right shoulder" in right.sentence
    assert "your left" not in right.sentence
    assert "camera left" in right.show


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
    mirrored = setup.with_changes(turn_deg=-setup.turn_deg, tilt_deg=-setup.tilt_deg)
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


@pytest.mark.parametrize(
    ("turn_deg", "step"),
    # Steps of the trade: "a touch" 3, "a little" 7, "quarter" 25-35 (common practice, no source).
    [(3.0, "a touch"), (7.0, "a little"), (25.0, "a quarter turn"), (35.0, "a quarter turn")],
)
def test_steps_are_the_natural_ones(turn_deg, step):
    assert sentence(Setup(turn_deg=turn_deg), "turn")[0].endswith(f", {step}.")


def test_steps_grow_with_the_turn():
    said = [sentence(Setup(turn_deg=float(d)), "turn")[0] for d in range(2, 91)]
    assert len(dict.fromkeys(said)) == 7
    assert sum(a != b for a, b in pairwise(said)) == 6


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
