import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.brief.kit import LightSource
from sitwell.scene.flash import full_power_f_number, guide_number_m, steady_exposure_value


def light(size_mm=80.0, **power):
    return LightSource(name="light", size_mm=size_mm, distance_mm=(500, 5000), **power)


def test_a_small_flash_follows_its_guide_number():
    # idigitalphoto.com/dictionary/guide_number: 45 at 5 m is f/9
    assert_allclose(full_power_f_number(light(guide_number_m_iso100=45), 5000), 9.0, rtol=1e-4)


def test_two_stops_in_the_modifier_halve_the_guide_number():
    through = light(guide_number_m_iso100=40, modifier_loss_stops=2)
    assert_allclose(guide_number_m(through), 20)


def test_four_times_the_watt_seconds_open_two_stops():
    near, far = (guide_number_m(light(watt_seconds=ws)) for ws in (100, 400))
    assert_allclose(far / near, 2)


def test_300_watt_seconds_in_a_softbox_give_a_usual_aperture():
    # common practice, no source: between f/8 and f/22 at 1.5 m and ISO 100
    box = light(900.0, watt_seconds=300, modifier_loss_stops=1.5)
    assert 8 < full_power_f_number(box, 1500) < 22


@given(distance=st.floats(300, 5000), size=st.floats(10, 2000))
def test_a_large_face_falls_off_as_an_even_disc(distance, size):
    # exact for a matte disc square on: 1 / (d^2 + a^2)
    flash = light(size, guide_number_m_iso100=30)
    near, far = (full_power_f_number(flash, d) for d in (distance, 2 * distance))
    a = size / 2
    assert_allclose((near / far) ** 2, (4 * distance**2 + a**2) / (distance**2 + a**2))


def test_iso_400_closes_two_stops():
    flash = light(guide_number_m_iso100=30)
    assert_allclose(full_power_f_number(flash, 2000, 400) / full_power_f_number(flash, 2000), 2)


def test_lux_meter_as_the_shutter_formula_has_it():
    lamp = light(1.0, lux_at_1m=1000)
    ev = steady_exposure_value(lamp, 2000)
    shutter_s = 4.0**2 / 2**ev
    # t = C N^2 / (E S) with C = 250; 250 lx, a quarter, at 2 m
    assert_allclose(shutter_s, 250 * 4.0**2 / (250 * 100), rtol=1e-5)


def test_a_metered_value_is_what_it_is():
    assert steady_exposure_value(light(exposure_value=9.0), 1234) == 9.0


@pytest.mark.parametrize("power", [{}, {"lux_at_1m": 1000}, {"exposure_value": 8}])
def test_what_is_no_flash_has_no_guide_number(power):
    assert guide_number_m(light(**power)) is None
    assert full_power_f_number(light(**power), 1000) is None


@pytest.mark.parametrize("power", [{}, {"watt_seconds": 100}, {"guide_number_m_iso100": 30}])
def test_what_does_not_burn_has_no_exposure_value(power):
    assert steady_exposure_value(light(**power), 1000) is None
    assert not math.isnan(light(**power).sync_speed_s)
