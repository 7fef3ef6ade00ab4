import re
from datetime import UTC, date, datetime

import pytest

from sitwell.scene.setup import Setup
from sitwell.scene.sun import Place, Sun, camera_bearing_for
from sitwell.scene.sun_day import Hour, sun_day
from sitwell.scene.sun_words import (
    NOBODY,
    bearing_words,
    day_words,
    heed_words,
    now_words,
    remark,
    title_words,
)

GREENWICH = Place(latitude_deg=51.48, longitude_deg=0.0)
MIDSUMMER = date(2026, 6, 21)


def sun(bearing_deg=180.0, elevation_deg=30.0):
    when = datetime(2026, 6, 21, 12, tzinfo=UTC)
    return Sun(when=when, bearing_deg=bearing_deg, elevation_deg=elevation_deg)


def day(setup=None, place=GREENWICH, on=MIDSUMMER, camera=None):
    pytest.importorskip("pvlib")
    return sun_day(place, on, UTC, setup, camera)


@pytest.mark.parametrize(
    ("bearing", "words"),
    [
        (0, "north (0°)"),
        (359.8, "north (0°)"),
        (222, "south-west (222°)"),
        (67.4, "north-east (67°)"),
    ],
)
def test_bearings_in_words(bearing, words):
    assert bearing_words(bearing) == words


def test_the_day_names_its_place_and_zone():
    title = title_words(day())
    assert title == "The sun on 2026-06-21 at 51.48, 0, times in UTC+00:00"


def test_the_day_opens_with_sunrise_and_sunset():
    (opening,) = day_words(day())
    assert re.match(r"Sunrise 03:4\d, sunset 20:2\d; highest 62° at 12:0\d, in the south", opening)


def test_the_days_words_name_time_place_and_way():
    found = day(Setup(key_azimuth_deg=40, key_elevation_deg=30))
    _, wants, morning, how, *rest = day_words(found)
    assert wants == "The set-up wants its key 30° up, at camera right, 40° round."
    spell = found.spells[0]
    assert morning.startswith(
        f"From {spell.first.when:%H:%M} to {spell.last.when:%H:%M} the sun is"
    )
    assert f"best at {spell.best.when:%H:%M}" in morning
    looks = bearing_words(camera_bearing_for(spell.best, found.setup))
    assert f"shoots toward the {looks};" in morning
    assert "go round with the sun, shooting first toward the" in morning
    assert how.startswith("From 1")  # the afternoon: no warning stands between
    assert rest == []


def test_each_side_and_straight_has_its_own_sentence():
    for azimuth, said in ((-40, "at camera left, 40° round"), (0, "straight over the lens")):
        assert said in day_words(day(Setup(key_azimuth_deg=azimuth)))[1]


def test_a_squint_is_said_once_though_the_sun_comes_twice():
    told = day_words(day(Setup(key_azimuth_deg=10, key_elevation_deg=20)))
    assert sum("makes them squint" in line for line in told) == 1


def test_a_sun_that_never_climbs_as_high_is_said_so():
    *_, never = day_words(day(Setup(key_elevation_deg=80)))
    assert "never stands where the set-up wants it, 80° high; it climbs to 62°" in never
    assert "open shade" in never


def test_a_camera_that_must_look_one_way_is_told_of_its_own():
    *_, never = day_words(day(Setup(key_azimuth_deg=40, key_elevation_deg=35), camera=134.0))
    assert "while the camera looks toward the south-east (134°)" in never
    told = day_words(day(Setup(key_azimuth_deg=40, key_elevation_deg=35), camera=314.0))
    assert not any("go round with the sun" in line for line in told)


def test_a_polar_night_and_a_midnight_sun_are_said_so():
    north = Place(latitude_deg=78, longitude_deg=15)
    dark = day(Setup(), place=north, on=date(2026, 12, 21))
    assert day_words(dark) == ("On this day the sun does not rise here.",)
    assert dark.hours == ()
    bright = day_words(day(place=north))
    assert bright[0].startswith("The sun does not set on this day; highest 35°")


def test_now_says_where_to_stand_and_how_the_height_fits():
    standing, *heed = now_words(Setup(key_azimuth_deg=40, key_elevation_deg=30), sun(200, 50))
    assert "stands to the south-west (240°) of the sitter" in standing
    assert "shoots toward the north-east (60°)" in standing
    assert "nose points to the south-west (240°)" in standing
    assert "20° higher than planned" in standing
    assert heed[-1] == NOBODY
    assert "as planned" in now_words(Setup(key_elevation_deg=30), sun(200, 32))[0]
    assert now_words(Setup(), sun(200, -1)) == ("The sun is not up now.",)


def test_warnings_end_with_the_care_sentence():
    assert heed_words(Setup(key_azimuth_deg=70, key_elevation_deg=40)) == (NOBODY,)
    squint, care = heed_words(Setup(key_azimuth_deg=10, key_elevation_deg=15))
    assert "18° from where the sitter looks" in squint
    behind, care = heed_words(Setup(key_azimuth_deg=170, key_elevation_deg=15))
    assert "before the lens" in behind
    assert "Never look at the sun" in care
    assert "never aim a long lens at it" in care


@pytest.mark.parametrize(
    ("hour", "said"),
    [
        ({"sun": sun(elevation_deg=70)}, "high: the brows shade the eyes"),
        ({"sun": sun(elevation_deg=5)}, "low: warm and weak"),
        ({"sun": sun(elevation_deg=35)}, ""),
        ({"sun": sun(), "higher_deg": 4.0, "off_deg": 4.0}, "as planned"),
        ({"sun": sun(), "higher_deg": -12.0, "off_deg": 12.0}, "12° lower than planned"),
        ({"sun": sun(), "higher_deg": 1.0, "off_deg": 30.0}, "30° from the planned key"),
        (
            {"sun": sun(), "higher_deg": 9.0, "off_deg": 9.0, "squint": True, "into_lens": True},
            "9° higher than planned, squinting, into the lens",
        ),
    ],
)
def test_a_row_says_what_to_mind(hour, said):
    assert remark(Hour(**hour)) == said
