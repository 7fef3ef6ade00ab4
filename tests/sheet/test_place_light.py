"""How to stand to a light that nobody moves, line by line."""

from dataclasses import replace

import pytest

from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.place_light import Daylight, Window, shade_light, sun_light, window_light
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.scene.daylight_level import own_light, sun_ratio
from sitwell.scene.setup import Setup
from sitwell.scene.sun import camera_bearing_for, key_from_sun_deg
from sitwell.scene.window import room_ratio
from sitwell.sheet.place_light import daylight_as_dict, fills_itself, place_words
from sitwell.sheet.settings import studio_words

SUN = Daylight(
    light=sun_light((24.0, 24.0)),
    bearing_deg=173.0,
    unfilled_ratio=8.0,
    when="2026-11-25 15:00+00:00",
    holds=("14:20", "15:40"),
)
SHADE = Daylight(light=shade_light(), unfilled_ratio=2.5)
WINDOW = Daylight(
    light=window_light(Window(width_mm=1200, height_mm=1400), (700, 2500)), unfilled_ratio=6.0
)


def under(daylight, **changes):
    light = daylight.light
    setup = Setup(key_size_mm=light.size_mm, key_distance_mm=light.distance_mm[-1])
    return setup.with_changes(**{"key_azimuth_deg": 40, "key_elevation_deg": 24} | changes)


def lines(daylight, **changes):
    return {line.name: line for line in place_words(under(daylight, **changes), daylight)}


def test_a_light_that_can_be_moved_keeps_the_studios_lines():
    assert place_words(Setup()) == studio_words(Setup())


def test_the_sun_is_told_by_side_height_and_compass():
    told = lines(SUN, turn_deg=20)
    assert told["Key, place"].value == "the sun, at camera right, 40° round"
    assert told["Key, place"].note == "24° up; small and hard"
    # seen to the south at 173, and 40 degrees to the right of the camera's own place at 213
    assert told["Stand"].value == "shoot toward the north-east (33°)"
    assert "from true north; the camera stands to the south-west (213°)" in told["Stand"].note
    assert "nose points to the south (193°)" in told["Stand"].note
    assert told["Time"].value == "2026-11-25 15:00+00:00"
    assert "from 14:20 to 15:40 the sun stays within 5°" in told["Time"].note
    assert not {"Key, distance", "Key, size"} & set(told)


@pytest.mark.parametrize("azimuth", [-80, -15, 0, 40, 90])
def test_who_shoots_as_told_has_the_light_at_the_key(azimuth):
    class Sun:
        bearing_deg, elevation_deg = SUN.bearing_deg, 24.0

    setup = under(SUN, key_azimuth_deg=azimuth)
    way = daylight_as_dict(setup, SUN)["camera_bearing_deg"]
    assert way == camera_bearing_for(Sun, setup)
    assert key_from_sun_deg(Sun, way)[0] == pytest.approx(azimuth)


def test_without_a_time_the_sun_is_gone_round_and_looked_up():
    told = lines(replace(SUN, bearing_deg=None, when="", holds=None))
    assert told["Stand"].value.startswith("go round the sitter until the sun is there")
    assert "sitwell sun" in told["Stand"].note
    assert "Time" not in told


def test_a_high_sun_is_warned_of():
    note = lines(SUN, key_elevation_deg=58)["Key, place"].note
    assert note.startswith("58° up: so high, the brows shade the eyes")
    assert "open shade" in note


@pytest.mark.parametrize(
    ("daylight", "value"),
    [
        (SUN, "the sun, straight over the lens"),
        (SHADE, "the open sky, straight behind the camera"),
        (WINDOW, "the window, straight behind the camera"),
    ],
)
def test_a_light_straight_ahead_has_no_side(daylight, value):
    assert lines(daylight, key_azimuth_deg=1)["Key, place"].value == value


def test_open_shade_is_told_by_the_open_sky():
    told = lines(SHADE, key_azimuth_deg=-30)
    assert told["Key, place"].value == "the open sky, at camera left, 30° round"
    assert "large and soft" in told["Key, place"].note
    assert "just inside the shade" in told["Stand"].value
    by_compass = lines(replace(SHADE, bearing_deg=0.0), key_azimuth_deg=-30)
    # open to the north and 30 degrees to the camera's left: shoot to 150
    assert by_compass["Stand"].value == "shoot toward the south-east (150°)"


def test_a_window_is_told_by_where_sitter_and_camera_stand():
    told = lines(WINDOW, key_azimuth_deg=60, key_elevation_deg=0, key_distance_mm=1500)
    assert told["Key, place"].value == "the window, at camera right, 60° round"
    assert told["Key, place"].note == "its middle is level with the eyes"
    assert told["Stand"].value.startswith("the sitter’s eyes 1.50 m (4 ft 11 in) straight in from")
    # 2 m away at 60 degrees: 1 m toward the window, 1.73 m along its wall
    assert "the lens 50 cm (20 in) off the window’s wall and 1.73 m" in told["Stand"].note
    assert "on the sitter’s own right as they face the window" in told["Stand"].note
    left = lines(WINDOW, key_azimuth_deg=-60, key_elevation_deg=15, key_distance_mm=1500)
    assert "on the sitter’s own left as they face" in left["Stand"].note
    assert left["Key, place"].note == "its middle is 15° up"
    low = lines(WINDOW, key_elevation_deg=-8, key_distance_mm=1500)["Key, place"]
    assert low.note == "its middle is 8° below the eyes"


def test_between_sitter_and_window_and_outside_the_wall():
    near = lines(WINDOW, key_azimuth_deg=0, key_distance_mm=2400, key_elevation_deg=0)["Stand"]
    assert near.note == "the lens between sitter and window, 40 cm (16 in) off its wall"
    bay = lines(WINDOW, key_azimuth_deg=20, key_distance_mm=900)["Stand"]
    assert bay.note == ""


@pytest.mark.parametrize(
    ("daylight", "ratio", "said"),
    [
        (SUN, 3.0, "a reflector opposite the sun, by meter: sky and ground alone give 8:1"),
        (SUN, 7.5, "what sky and ground give; no reflector"),
        (SHADE, 2.5, "what the surroundings give; no reflector"),
        (SHADE, 1.5, "a reflector opposite the sky, by meter: the place alone gives 2.5:1"),
        (WINDOW, 3.0, "a reflector opposite the window, by meter: the room alone gives 6:1"),
        (WINDOW, 8.0, "black cloth opposite the light, by meter: the place alone gives 6:1"),
        (replace(SUN, unfilled_ratio=None), 3.0, "by meter, with a reflector opposite the light"),
    ],
)
def test_the_fill_says_what_the_place_does_by_itself(daylight, ratio, said):
    assert lines(daylight, fill_ratio=ratio)["Fill"].note == said
    assert fills_itself(under(daylight, fill_ratio=ratio), daylight) == ("no reflector" in said)


def test_a_background_outdoors_is_looked_for():
    told = lines(SUN, background_distance_mm=8000, background_stops=-2)["Background"]
    assert told.value == "8.00 m (26 ft 3 in) or more behind the sitter"
    assert told.note == "look for one that is 2 stops darker than the lit cheek, by spot meter"
    assert "or more" not in lines(WINDOW)["Background"].value


def test_the_places_own_fill_is_known_for_each_kind():
    kit = KITS["full-frame-primes"]
    sunny = under(SUN, key_elevation_deg=30)
    assert own_light(kit, ROOMS["outdoors"], sunny).unfilled_ratio == sun_ratio(30)
    by_window = under(WINDOW, key_distance_mm=1500)
    window = own_light(kit, ROOMS["by-a-window"], by_window)
    size_mm = window.light.size_mm
    assert window.unfilled_ratio == room_ratio(size_mm, by_window, ROOMS["by-a-window"])
    assert own_light(kit, ROOMS["open-shade"], under(SHADE)).unfilled_ratio == 2.5
    assert own_light(kit, ROOMS["studio"], Setup()) is None


def test_a_window_of_the_kit_is_told_as_one():
    kit = KITS["one-35-mm-window"]
    setup = Setup(key_size_mm=1200, key_azimuth_deg=-70, key_elevation_deg=15, distance_mm=900)
    told = {s.name: s for s in place_words(setup, own_light(kit, ROOMS["living-room"], setup))}
    assert told["Key, place"].value == "the window, at camera left, 70° round"
    assert "straight in from the window’s middle" in told["Stand"].value
