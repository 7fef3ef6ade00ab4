from datetime import UTC, datetime

import pytest

from sitwell.base.errors import SheetError
from sitwell.scene.sun import Sun, key_from_sun_deg
from sitwell.sheet.nudges import SITTER_MOVES, STUDIO_MOVES, nudge_words


@pytest.mark.parametrize(
    ("move", "difference", "words"),
    [
        ("turn_deg", 4.0, "Your nose toward your left shoulder, a touch."),
        ("turn_deg", -4.0, "Your nose toward your right shoulder, a touch."),
        ("turn_deg", 24.0, "Your nose slowly farther toward your left shoulder."),
        ("turn_deg", -40.0, "Your nose slowly farther toward your right shoulder."),
        ("tilt_deg", 4.0, "Your head toward your left shoulder, a touch."),
        ("chin_deg", -7.0, "Your chin down a little."),
        ("chin_forward_mm", 15.0, "Your forehead toward the lens a little."),
        ("camera_height_mm", 120.0, "Raise the lens 12 cm (5 in)."),
        ("camera_height_mm", -120.0, "Lower the lens 12 cm (5 in)."),
        ("distance_mm", -300.0, "Bring the camera in 30 cm (12 in)."),
        ("key_azimuth_deg", 10.0, "Swing the key 10° toward camera right."),
        ("key_azimuth_deg", -10.0, "Swing the key 10° toward camera left."),
        ("key_elevation_deg", -5.0, "Lower the key 5°."),
        ("fill_ratio", 1.0, "Take some fill away."),
        ("background_stops", -1.0, "Darken the background by 1 stop."),
        ("background_stops", 0.5, "Brighten the background by 0.5 stops."),
    ],
)
def test_a_nudge_goes_toward_the_target(move, difference, words):
    assert nudge_words(move, difference) == words


@pytest.mark.parametrize("move", [*SITTER_MOVES, *STUDIO_MOVES])
def test_nothing_is_said_of_what_is_in_place(move):
    assert nudge_words(move, 0.0) == ""


def test_a_quantity_that_no_one_can_move_is_refused():
    with pytest.raises(SheetError, match="no words for moving 'sensor_width_mm'; give one of turn"):
        nudge_words("sensor_width_mm", 3.0)


@pytest.mark.parametrize(
    ("difference", "words"),
    [
        # a light that must come more from camera right: the camera goes round to its left
        (12.0, "Go round the sitter 12° toward camera left, and let the sitter turn with you."),
        (-12.0, "Go round the sitter 12° toward camera right, and let the sitter turn with you."),
        (1.0, ""),
    ],
)
def test_a_light_that_stays_is_gone_round(difference, words):
    assert nudge_words("key_azimuth_deg", difference, stays=True) == words


def test_who_goes_round_as_told_brings_the_sun_to_the_key():
    # the camera's own left, seen from the sitter, lies clockwise on the compass
    sun = Sun(when=datetime(2026, 6, 21, 12, tzinfo=UTC), bearing_deg=200.0, elevation_deg=30.0)
    looks, wanted = 40.0, 50.0
    now, _ = key_from_sun_deg(sun, looks)
    assert "toward camera left" in nudge_words("key_azimuth_deg", wanted - now, stays=True)
    there, _ = key_from_sun_deg(sun, looks + (wanted - now))
    assert there == pytest.approx(wanted)
