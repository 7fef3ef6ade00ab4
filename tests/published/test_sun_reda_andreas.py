"""The sun's place against the worked example of Reda and Andreas 2004, Table A."""

from datetime import date, datetime, timedelta, timezone

import pytest
from numpy.testing import assert_allclose

from sitwell.scene.sun import Place, rise_and_set, sun_at, sun_over

pytest.importorskip("pvlib")


def test_the_example_of_the_solar_position_algorithm():
    # 17 October 2003, 12:30:30 at UTC-7, 39.742476 N, 105.1786 W, 1830.14 m, 820 mbar, 11 C,
    # delta T 67 s: topocentric zenith 50.11162, azimuth 194.34024 degrees
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    place = Place(latitude_deg=39.742476, longitude_deg=-105.1786, altitude_m=1830.14)
    sun = sun_at(place, when, pressure_hpa=820.0, temperature_c=11.0, delta_t_s=67.0)
    assert_allclose(90.0 - sun.elevation_deg, 50.11162, atol=1e-4)
    assert_allclose(sun.bearing_deg, 194.34024, atol=1e-4)


def test_the_examples_sunrise_and_sunset():
    # The algorithm's own test program prints 06:12:43 and 17:20:19 for 17 October (as kept in the
    # tests of a public port of it). Its day is that of universal time, in which the sunset of the
    # 17th, 00:20, is the evening of the 16th there. Ours are whole minutes: the first and the last
    # with sun.
    zone = timezone(timedelta(hours=-7))
    place = Place(latitude_deg=39.742476, longitude_deg=-105.1786, altitude_m=1830.14)
    rises, _ = rise_and_set(sun_over(place, date(2003, 10, 17), zone))
    _, sets = rise_and_set(sun_over(place, date(2003, 10, 16), zone))
    assert abs(rises.when - datetime(2003, 10, 17, 6, 12, 43, tzinfo=zone)) < timedelta(minutes=1)
    assert abs(sets.when - datetime(2003, 10, 16, 17, 20, 19, tzinfo=zone)) < timedelta(minutes=1)
