"""Exposure outdoors against the published table of exposure values, ANSI PH2.7-1986.

As reprinted at liquisearch.com/exposure_value/tabulated_exposure_values, read 2026-11-25: at ISO
100 a typical scene in full sunlight 15, areas in open shade in clear sunlight 12, from about two
hours after sunrise to two before sunset, lit from the front. Half a stop is what meters and the
formula of the light of a clear day leave open.
"""

import math

import pytest
from numpy.testing import assert_allclose

from sitwell.brief.kit import FULL_FRAME
from sitwell.brief.room import PRESETS
from sitwell.scene.daylight_level import fill_lux, sky_lux, sun_exposure_value, sun_lux, sun_ratio
from sitwell.scene.exposure import expose
from sitwell.scene.flash import CALIBRATION
from sitwell.scene.setup import Setup

HALF_A_STOP = 0.5


@pytest.mark.parametrize("elevation_deg", [20, 25, 30, 35, 40, 50, 60])
def test_a_face_in_full_sun(elevation_deg):
    assert_allclose(sun_exposure_value(elevation_deg), 15.0, atol=HALF_A_STOP + 0.01)


@pytest.mark.parametrize("elevation_deg", [20, 40, 60])
def test_the_sunny_16_rule(elevation_deg):
    # f/16 at one over the ISO: 1/100 s at ISO 100 (common practice)
    rule = math.log2(16.0**2 * 100.0)
    assert_allclose(sun_exposure_value(elevation_deg), rule, atol=1.0)


def test_a_planned_set_up_in_the_sun_is_exposed_by_it():
    (light,) = (PRESETS["outdoors"].daylight.light,)
    setup = Setup(f_number=16.0, key_elevation_deg=40.0, fill_ratio=8.0)
    shutter_s = expose(setup, light, FULL_FRAME).shutter_s
    assert_allclose(math.log2(16.0**2 / shutter_s), 15.0, atol=HALF_A_STOP + 0.01)


def test_a_face_in_open_shade():
    light = PRESETS["open-shade"].daylight.light
    assert light.exposure_value == 12.0
    # a face that sees sky a quarter turn from the sun, and sunlit ground before it
    ev = math.log2(100.0 * fill_lux(40.0) / CALIBRATION)
    assert_allclose(ev, 12.0, atol=HALF_A_STOP + 0.1)


def test_light_of_sun_and_sky_in_lux():
    # direct sunlight 32 to 100 thousand lux, full daylight without it 10 to 25 thousand: the table
    # of examples at teckxpert.com/tecknows/182 (read 2026-11-25), which is an encyclopedia's
    for elevation_deg in (15, 30, 45, 60):
        assert 32_000 <= sun_lux(elevation_deg) <= 101_000
    for elevation_deg in (25, 45, 60):
        assert 10_000 <= sky_lux(elevation_deg) <= 25_000


def test_the_sun_and_its_shade_lie_about_three_stops_apart():
    # common practice, no source: direction and size only
    for elevation_deg in (20, 40, 60):
        assert 2.0 < math.log2(sun_ratio(elevation_deg)) < 3.5


def test_a_low_sun_is_weak_and_a_set_one_gone():
    values = [sun_lux(elevation_deg) for elevation_deg in (60, 30, 10, 5, 1, 0, -3)]
    assert values == sorted(values, reverse=True)
    assert values[-2:] == [0.0, 0.0]
    assert sun_exposure_value(-1.0) == -math.inf
