import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import PlaceError, RoomError
from sitwell.brief.place_light import Daylight, sun_light
from sitwell.brief.room import PRESETS
from sitwell.scene.setup import Setup
from sitwell.scene.sun import (
    Place,
    Sun,
    camera_bearing_for,
    face_bearing_deg,
    gaze_to_sun_deg,
    highest,
    key_from_sun_deg,
    lens_to_sun_deg,
    rise_and_set,
    room_in_sun,
    spells,
    sun_as_light,
    sun_at,
    sun_over,
    under_the_sun,
)

NOON = datetime(2026, 6, 21, 12, tzinfo=UTC)
GREENWICH = Place(latitude_deg=51.48, longitude_deg=0.0)
bearings = st.floats(0, 359.9)


def sun(bearing_deg=180.0, elevation_deg=30.0, when=NOON):
    return Sun(when=when, bearing_deg=bearing_deg, elevation_deg=elevation_deg)


@pytest.fixture(scope="module")
def track():
    pytest.importorskip("pvlib")
    return sun_over(GREENWICH, NOON.date(), UTC)


@pytest.mark.parametrize(
    ("sun_bearing", "camera_bearing", "key"),
    [
        (180, 0, 0),  # sun in the south, camera looks north: the sun is behind the camera
        (270, 0, -90),  # in the west, which is to the left of a camera that looks north
        (90, 0, 90),
        (180, 90, 90),  # camera looks east: south is at its right
        (0, 0, 180),  # before the lens
    ],
)
def test_the_key_is_on_the_cameras_side_of_the_compass(sun_bearing, camera_bearing, key):
    azimuth, elevation = key_from_sun_deg(sun(sun_bearing), camera_bearing)
    assert_allclose(abs(azimuth), abs(key))
    assert key == 180 or azimuth == key
    assert elevation == 30


@given(bearing=bearings, azimuth=st.floats(-179, 179))
def test_facing_as_told_puts_the_sun_at_the_key(bearing, azimuth):
    setup = Setup(key_azimuth_deg=azimuth)
    there = camera_bearing_for(sun(bearing), setup)
    assert 0 <= there < 360
    assert_allclose(key_from_sun_deg(sun(bearing), there)[0], azimuth, atol=1e-9)


@given(bearing=bearings, turn=st.floats(-50, 50))
def test_the_sitter_faces_the_camera_and_turns_away_by_the_turn(bearing, turn):
    # a turn to their own left is a turn to the camera's right, against the clock for the sitter
    assert_allclose(
        (face_bearing_deg(bearing, Setup(turn_deg=turn)) + turn - bearing) % 360, 180, atol=1e-9
    )


def test_noon_at_greenwich_on_midsummers_day(track):
    top = highest(track)
    # 90 - latitude + tilt of the earth's axis (23.44), and the sun's own clock is two minutes late
    assert_allclose(top.elevation_deg, 90 - 51.48 + 23.44, atol=0.05)
    assert_allclose(top.bearing_deg, 180, atol=1.0)
    assert abs((top.when - NOON).total_seconds()) < 5 * 60


def test_a_free_camera_needs_only_the_suns_height(track):
    found = spells(track, Setup(key_elevation_deg=30), within_deg=2)
    assert [spell.best.when.hour < 12 for spell in found] == [True, False]
    for spell in found:
        assert spell.first.when < spell.best.when < spell.last.when
        assert_allclose(spell.best.elevation_deg, 30, atol=0.1)
        azimuth, _ = key_from_sun_deg(spell.best, spell.camera_bearing_deg)
        assert_allclose(azimuth, Setup().key_azimuth_deg)


def test_a_camera_that_cannot_go_round_waits_for_the_sun(track):
    setup = Setup(key_azimuth_deg=40, key_elevation_deg=35)
    found = spells(track, setup, within_deg=5, camera_bearing_deg=314.0)
    assert len(found) == 1
    assert found[0].off_deg <= 5
    # key 40 degrees to the right of a camera that looks to 314: sun near 314 + 180 - 40 = 94
    assert_allclose(found[0].best.bearing_deg, 94, atol=8)
    assert spells(track, setup, within_deg=5, camera_bearing_deg=134.0) == []


def test_a_sun_that_never_climbs_as_high_is_no_key(track):
    assert spells(track, Setup(key_elevation_deg=80)) == []


def test_a_polar_night_has_no_key():
    pytest.importorskip("pvlib")
    dark = sun_over(Place(latitude_deg=78, longitude_deg=15), date(2026, 12, 21), UTC)
    assert spells(dark, Setup(key_elevation_deg=2)) == []


def test_looking_toward_the_sun_makes_squint():
    near = Setup(key_azimuth_deg=10, key_elevation_deg=15)
    assert gaze_to_sun_deg(near) < 20
    assert gaze_to_sun_deg(Setup(key_azimuth_deg=70, key_elevation_deg=40)) > 60


def test_a_gaze_ahead_turns_with_the_head():
    setup = Setup(key_azimuth_deg=60, key_elevation_deg=0, turn_deg=40, gaze="ahead")
    assert_allclose(gaze_to_sun_deg(setup), 20, atol=1e-6)
    assert_allclose(gaze_to_sun_deg(setup.with_changes(gaze="lens")), 60, atol=1e-6)


def test_a_sun_behind_the_sitter_is_before_the_lens():
    behind = Setup(key_azimuth_deg=170, key_elevation_deg=15)
    assert lens_to_sun_deg(behind) < 20


def test_the_sun_as_key_is_far_and_small():
    setup = under_the_sun(Setup(), sun(200, 40), 0.0)
    assert_allclose((setup.key_azimuth_deg, setup.key_elevation_deg), (-20, 40))
    half = np.degrees(np.arctan(setup.key_size_mm / 2 / setup.key_distance_mm))
    assert_allclose(2 * half, 0.533, atol=1e-3)
    light = sun_as_light(sun(200, 40))
    assert light.elevation_deg == (40, 40)
    assert (light.kind(), light.stays(), light.is_fixed()) == ("sun", True, False)


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 6, 1), 24)]
)
def test_a_day_on_which_the_clocks_change_is_shorter_or_longer(day, hours):
    pytest.importorskip("pvlib")
    track = sun_over(GREENWICH, day, ZoneInfo("Europe/London"))
    assert len(track) == hours * 60
    assert {sun.when.date() for sun in track} == {day}
    steps = np.diff([sun.when.timestamp() for sun in track])
    assert set(steps) == {60.0}


def test_without_a_zone_the_machines_own_counts():
    pytest.importorskip("pvlib")
    track = sun_over(GREENWICH, date(2026, 6, 1), None)
    assert track[0].when.utcoffset() == datetime(2026, 6, 1).astimezone().utcoffset()


def test_a_midnight_sun_neither_rises_nor_sets():
    pytest.importorskip("pvlib")
    north = sun_over(Place(latitude_deg=78, longitude_deg=15), date(2026, 6, 21), UTC)
    assert rise_and_set(north) == (None, None)


@pytest.fixture(scope="module")
def sunny():
    pytest.importorskip("pvlib")
    return room_in_sun(PRESETS["outdoors"], GREENWICH, NOON + timedelta(hours=4))


def test_a_place_in_the_sun_at_a_time(sunny):
    light, there = sunny.daylight.light, sun_at(GREENWICH, NOON + timedelta(hours=4))
    assert light.elevation_deg == (there.elevation_deg, there.elevation_deg)
    assert light.azimuth_deg == (-90, 90)
    assert sunny.daylight.when == "2026-06-21 16:00+00:00"
    assert 250 < sunny.daylight.bearing_deg < 280
    assert 6 < sunny.daylight.unfilled_ratio < 9
    assert (sunny.outdoors, sunny.kit_lights) == (True, False)


def test_what_was_metered_there_stays():
    pytest.importorskip("pvlib")
    typed = replace(
        PRESETS["outdoors"], daylight=Daylight(light=sun_light((15, 40), 13.5), unfilled_ratio=4.0)
    )
    there = room_in_sun(typed, GREENWICH, NOON).daylight
    assert (there.light.exposure_value, there.unfilled_ratio) == (13.5, 4.0)


def test_it_holds_while_the_sun_stands_about_as_high(sunny, track):
    start, end = sunny.daylight.holds
    heights = [s.elevation_deg for s in track if start <= f"{s.when:%H:%M}" <= end]
    wanted = sunny.daylight.light.elevation_deg[0]
    assert start < "16:00" < end
    assert all(abs(height - wanted) <= 5 for height in heights)
    assert_allclose((max(heights), min(heights)), (wanted + 5, wanted - 5), atol=0.2)


def test_a_sun_that_is_not_up_is_said_with_its_hours():
    night = datetime(2026, 12, 21, 20, tzinfo=timezone(timedelta(0)))
    said = (
        r"2026-12-21 20:00 the sun is not up there \(-\d+ degrees\); choose a time between 08:0\d"
    )
    with pytest.raises(PlaceError, match=said):
        room_in_sun(PRESETS["outdoors"], GREENWICH, night)
    with pytest.raises(PlaceError, match="take another day, or plan for the room open-shade"):
        room_in_sun(PRESETS["outdoors"], Place(latitude_deg=78, longitude_deg=15), night)


def test_a_room_without_sun_is_refused():
    with pytest.raises(RoomError, match="'studio' is not lit by the sun; give --room outdoors"):
        room_in_sun(PRESETS["studio"], GREENWICH, NOON)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ((91, 0), "The latitude 91 is no place on earth"),
        ((0, 200), "The longitude 200 is no place"),
    ],
)
def test_a_place_off_the_earth_is_refused(place, said):
    with pytest.raises(PlaceError, match=said):
        Place(latitude_deg=place[0], longitude_deg=place[1])


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(PlaceError, match="2026-06-21 12:00 names no time zone; add one"):
        sun_at(GREENWICH, NOON.replace(tzinfo=None))


def test_without_the_library_the_cure_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "pvlib.spa", None)
    with pytest.raises(PlaceError, match=r"needs the library pvlib.*extra 'sun'"):
        sun_at(GREENWICH, NOON)
