from datetime import UTC, date
from zoneinfo import ZoneInfo

import pytest
from numpy.testing import assert_allclose

from sitwell.scene.setup import Setup
from sitwell.scene.sun import Place, key_from_sun_deg, sun_at
from sitwell.scene.sun_day import as_dict, opposite_deg, sun_day

pytest.importorskip("pvlib")
MUNICH = Place(latitude_deg=48.1, longitude_deg=11.6)
SETUP = Setup(turn_deg=20, key_azimuth_deg=50, key_elevation_deg=30)


@pytest.fixture(scope="module")
def september():
    return sun_day(MUNICH, date(2026, 9, 15), ZoneInfo("Europe/Berlin"), SETUP)


def test_the_table_has_the_full_hours_with_sun(september):
    hours = [hour.sun.when.hour for hour in september.hours]
    assert hours == list(range(7, 20))
    assert all(hour.sun.when.minute == 0 for hour in september.hours)
    for hour in september.hours:
        assert_allclose(hour.sun.elevation_deg, sun_at(MUNICH, hour.sun.when).elevation_deg)


def test_a_short_day_is_told_by_the_half_hour():
    short = sun_day(Place(latitude_deg=64, longitude_deg=26), date(2026, 12, 21), UTC)
    assert len(short.hours) >= 6
    assert {hour.sun.when.minute for hour in short.hours} == {0, 30} or len(short.hours) >= 8


def test_who_stands_as_told_has_the_sun_as_the_key(september):
    for hour in september.hours:
        azimuth, elevation = key_from_sun_deg(hour.sun, hour.camera_bearing_deg)
        assert_allclose(azimuth, SETUP.key_azimuth_deg)
        assert_allclose(elevation - SETUP.key_elevation_deg, hour.higher_deg)
        assert_allclose((hour.nose_bearing_deg - hour.camera_bearing_deg) % 360, 160)


def test_whoever_looks_into_a_low_sun_squints():
    low = Setup(key_azimuth_deg=20, key_elevation_deg=10)
    hours = sun_day(MUNICH, date(2026, 9, 15), UTC, low).hours
    assert hours[0].squint
    assert not any(hour.squint for hour in hours if hour.sun.elevation_deg > 40)


def test_a_camera_that_must_look_into_the_sun_is_warned():
    south = sun_day(MUNICH, date(2026, 12, 15), UTC, SETUP, 180.0)
    noon = max(south.hours, key=lambda hour: hour.sun.elevation_deg)
    assert noon.into_lens
    assert noon.camera_bearing_deg == 180.0
    assert not noon.squint  # the sun is behind the sitter


def test_the_zone_is_told_and_both_when_the_clocks_change(september):
    assert september.zone == "UTC+02:00"
    change = sun_day(MUNICH, date(2026, 10, 25), ZoneInfo("Europe/Berlin"))
    assert change.zone == "UTC+02:00, UTC+01:00"


def test_json_has_the_whole_day(september):
    content = as_dict(september)
    assert content["day"] == "2026-09-15"
    assert content["sunrise"].startswith("2026-09-15T06:5")
    assert content["sunset"].startswith("2026-09-15T19:2")
    assert content["key"] == {"key_azimuth_deg": 50, "key_elevation_deg": 30}
    assert len(content["hours"]) == len(september.hours)
    for row in (*content["hours"], *content["spells"]):
        assert_allclose(
            row["camera_stands_deg"], opposite_deg(row["camera_bearing_deg"]), atol=0.011
        )
    assert content["spells"][0]["best"]["elevation_deg"] == pytest.approx(30, abs=0.2)


def test_json_of_a_day_without_a_set_up_has_nulls():
    content = as_dict(sun_day(Place(latitude_deg=78, longitude_deg=15), date(2026, 6, 21), UTC))
    assert (content["sunrise"], content["sunset"], content["key"]) == (None, None, None)
    assert content["hours"][0]["camera_bearing_deg"] is None


@pytest.mark.parametrize(("bearing", "back"), [(0, 180), (200, 20), (360, 180)])
def test_the_way_back(bearing, back):
    assert opposite_deg(bearing) == back
