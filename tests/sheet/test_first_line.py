"""The first line of a sheet: a set-up in a photographer's words, without what it does not ask."""

import pytest

from sitwell.scene.setup import Setup
from sitwell.sheet.first_line import first_line, shared_line

SEEN, GONE = {"ear_show_own_left": 0.03}, {"ear_show_own_left": 0.0, "ear_out_own_left": 0.0}
KEY_RIGHT = Setup(key_azimuth_deg=35.0, key_elevation_deg=30.0)


def test_a_turn_that_takes_the_far_ear_away_is_told_by_it():
    setup = KEY_RIGHT.with_changes(turn_deg=22.0, camera_height_mm=-100.0)
    assert first_line(setup, GONE, SEEN) == (
        "Turn to own left until the far ear is gone, key on camera right, lens a hand lower."
    )


def test_a_discreet_line_does_not_tell_of_the_ear():
    setup = KEY_RIGHT.with_changes(turn_deg=22.0)
    assert first_line(setup, GONE, SEEN, discreet=True).startswith("Turn to own left, 22°, key")


def test_an_ear_that_was_never_seen_is_not_waited_for():
    hidden = {"ear_show_own_left": 0.0}
    assert "ear" not in first_line(KEY_RIGHT.with_changes(turn_deg=22.0), GONE, hidden)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, "Nose to the lens, key on camera right, lens level with the eyes."),
        (
            {"turn_deg": -7.0, "chin_deg": -3.0},
            "Turn to own right, a little, chin down, a touch, key on camera right, "
            "lens level with the eyes.",
        ),
        (
            {"key_azimuth_deg": 0.0, "camera_height_mm": 210.0},
            "Nose to the lens, key over the lens, lens two hands higher.",
        ),
        (
            {"key_azimuth_deg": -40.0, "camera_height_mm": 480.0, "crop": "into-forehead"},
            "Nose to the lens, key on camera left, lens 48 cm (19 in) above the eyes, "
            "crop into the forehead.",
        ),
        (
            {"chin_forward_mm": 20.0, "tilt_deg": 4.0},
            "Nose to the lens, forehead toward the lens, lean to own left, a touch, "
            "key on camera right, lens level with the eyes.",
        ),
    ],
)
def test_each_move_has_its_words_and_what_is_not_asked_has_none(changes, told):
    assert first_line(KEY_RIGHT.with_changes(**changes), {}, {}) == told


def test_a_light_that_stays_is_called_what_it_is():
    assert "window on camera right" in first_line(KEY_RIGHT, {}, {}, "window")


def test_several_share_key_and_lens():
    assert shared_line(KEY_RIGHT) == "Key on camera right, lens level with the eyes."
