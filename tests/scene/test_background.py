import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.brief.kit import LightSource
from sitwell.scene.background import (
    falls_off,
    own_light_power,
    own_light_stops,
    spill_stops,
)
from sitwell.scene.setup import Setup

FRONT = {"key_azimuth_deg": 0.0, "key_elevation_deg": 0.0, "fill_ratio": 1e9}


@given(key=st.floats(500, 4000), background=st.floats(200, 6000), tone=st.floats(-3, 2))
def test_a_key_in_front_spills_by_inverse_square(key, background, tone):
    setup = Setup(key_distance_mm=key, background_distance_mm=background, **FRONT)
    fallen = 2.0 * math.log2((key + background) / key)
    assert_allclose(spill_stops(setup, tone), tone - fallen, atol=1e-6)


def test_a_key_beside_the_sitter_spills_less_on_what_is_behind():
    front, aside, beside = (
        spill_stops(Setup(key_azimuth_deg=azimuth, key_elevation_deg=0)) for azimuth in (0, 45, 80)
    )
    assert front > aside > beside


def test_half_the_lit_cheeks_light_is_the_keys_at_two_to_one():
    setup = Setup(**FRONT)
    assert_allclose(spill_stops(setup.with_changes(fill_ratio=2)), spill_stops(setup) - 1)


def test_a_key_behind_the_sitter_lights_no_background():
    assert spill_stops(Setup(key_azimuth_deg=175, key_elevation_deg=0)) == -math.inf
    assert spill_stops(Setup(fill_ratio=1)) == -math.inf


def test_its_own_flash_gives_the_planned_tone():
    flash = LightSource(
        name="small", size_mm=1.0, distance_mm=(500, 3000), guide_number_m_iso100=16
    )
    setup = Setup(f_number=4, background_stops=0, fill_ratio=1)  # a key that spills nothing
    # full power at 2 m gives f/8: f/4 takes a quarter
    assert_allclose(own_light_power(setup, flash, 2000), 0.25, rtol=1e-6)
    darker = setup.with_changes(background_stops=-2)
    assert_allclose(own_light_power(darker, flash, 2000), 0.0625, rtol=1e-6)


@pytest.mark.parametrize("tone", [1.0, -1.0])
def test_a_lighter_wall_needs_less(tone):
    flash = LightSource(name="s", size_mm=1.0, distance_mm=(500, 3000), guide_number_m_iso100=16)
    setup = Setup(fill_ratio=1)
    plain, toned = (own_light_power(setup, flash, 1500, tone_stops=t) for t in (0.0, tone))
    assert_allclose(toned / plain, 2.0**-tone)


@given(planned=st.floats(-4, 1), tone=st.floats(-2, 2), azimuth=st.floats(-80, 80))
def test_spill_and_its_own_light_add_up_to_the_planned_tone(planned, tone, azimuth):
    setup = Setup(background_stops=planned, key_azimuth_deg=azimuth)
    spill, own = 2 ** spill_stops(setup, tone), 2 ** own_light_stops(setup, tone)
    assert_allclose(spill + own, max(2**planned, spill))


def test_a_background_that_the_spill_lights_enough_needs_no_flash():
    flash = LightSource(name="s", size_mm=1.0, distance_mm=(500, 3000), guide_number_m_iso100=16)
    bright = Setup(background_distance_mm=500, background_stops=-4)
    assert own_light_stops(bright) == -math.inf
    assert own_light_power(bright, flash, 1000) == 0.0


def test_an_unknown_flash_is_left_unsaid():
    unknown = LightSource(name="u", size_mm=1.0, distance_mm=(500, 3000))
    assert own_light_power(Setup(), unknown, 1500) is None


PLACES = np.array([[0.0, 0.0, -2000.0], [900.0, 0.0, -2000.0], [-900.0, 400.0, -2000.0]])


def test_a_background_falls_off_from_its_tone_behind_the_sitter():
    for setup in (Setup(), Setup(background_light="on"), Setup(key_azimuth_deg=175)):
        assert falls_off(setup, PLACES)[0] == pytest.approx(1.0)


def test_a_lamp_square_to_it_falls_off_with_the_fourth_power_of_the_cosine():
    """From memory: inverse square, and the cosines at lamp and wall."""
    setup = Setup(
        key_azimuth_deg=175, key_elevation_deg=0, background_light="on",
        background_light_distance_mm=900,
    )  # fmt: skip
    assert falls_off(setup, PLACES)[1] == pytest.approx(math.cos(math.radians(45)) ** 4)


def test_spill_alone_falls_off_as_the_way_from_the_key_does():
    setup = Setup(key_azimuth_deg=0, key_elevation_deg=0, background_stops=-6.0)
    key_mm = np.array([0.0, 0.0, setup.key_distance_mm])
    ways = PLACES - key_mm
    length = np.linalg.norm(ways, axis=1)
    # inverse square, the cosine at the wall, and that of a flat key that faces the sitter
    wanted = length**-2.0 * (-ways[:, 2] / length) ** 2
    assert_allclose(falls_off(setup, PLACES), wanted / wanted[0])


def test_light_that_no_lamp_of_the_plan_gives_is_even():
    setup = Setup(key_azimuth_deg=175, key_elevation_deg=0)
    assert_allclose(falls_off(setup, PLACES), 1.0)
