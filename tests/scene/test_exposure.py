import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.brief.kit import FULL_FRAME, Camera, LightSource
from sitwell.brief.place_light import sun_light
from sitwell.scene.daylight_level import sun_exposure_value
from sitwell.scene.exposure import expose
from sitwell.scene.flash import full_power_f_number, steady_exposure_value
from sitwell.scene.setup import Setup

ALL_KEY = 1e9


def light(**power):
    return LightSource(name="light", size_mm=80.0, distance_mm=(500, 5000), **power)


@given(
    guide_number=st.floats(5, 80),
    f_number=st.sampled_from([1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0]),
    distance=st.floats(700, 4000),
)
def test_the_power_gives_the_aperture(guide_number, f_number, distance):
    flash = light(guide_number_m_iso100=guide_number)
    setup = Setup(f_number=f_number, key_distance_mm=distance, fill_ratio=ALL_KEY)
    found = expose(setup, flash, FULL_FRAME)
    if found.short_stops or found.over_stops:
        return
    full = full_power_f_number(flash, distance, found.iso)
    assert_allclose(full * math.sqrt(found.power), f_number, rtol=1e-6)


def test_a_flash_rather_doubles_the_iso_than_works_at_full_power():
    setup = Setup(f_number=8, key_distance_mm=2000, fill_ratio=ALL_KEY)
    found = expose(setup, light(guide_number_m_iso100=18), FULL_FRAME)
    assert found.iso == 200
    assert 0.25 < found.power <= 0.5


def test_fill_takes_its_part_of_the_lit_cheek():
    flash = light(guide_number_m_iso100=30)
    alone = expose(Setup(fill_ratio=ALL_KEY), flash, FULL_FRAME)
    filled = expose(Setup(fill_ratio=2), flash, FULL_FRAME)
    assert_allclose(filled.power / alone.power, 0.5, rtol=1e-6)


def test_a_weak_flash_says_how_much_it_lacks():
    camera = Camera(name="old", sensor_width_mm=36, sensor_height_mm=24, highest_iso=400)
    setup = Setup(f_number=8, key_distance_mm=3000, fill_ratio=ALL_KEY)
    found = expose(setup, light(guide_number_m_iso100=6), camera)
    # f/2 at 3 m and ISO 100, f/4 at ISO 400: two stops under f/8
    assert found.iso == 400
    assert_allclose(found.short_stops, 2, atol=0.01)
    assert found.power == 1


def test_a_strong_flash_says_how_much_it_has_too_much():
    setup = Setup(f_number=2, key_distance_mm=1000, fill_ratio=ALL_KEY)
    found = expose(setup, light(guide_number_m_iso100=45), FULL_FRAME)
    # 45 at 1 m is f/45, f/3.98 at 1/128
    assert_allclose(found.over_stops, 2 * math.log2(45 / math.sqrt(128) / 2), atol=0.01)
    assert found.power == 1 / 128


def test_the_shutter_syncs_and_the_rooms_light_is_counted():
    flash = light(guide_number_m_iso100=20, sync_speed_s=1 / 200)
    setup = Setup(f_number=4, key_distance_mm=1500)
    found = expose(setup, flash, FULL_FRAME, room_exposure_value=6.0)
    assert found.shutter_s == 1 / 200
    # f/4 at 1/200 s is EV 11.64 at ISO 100
    assert_allclose(found.room_stops, 11.64 - 6.0 - math.log2(found.iso / 100), atol=0.01)
    assert expose(setup, flash, FULL_FRAME).room_stops is None


@given(ev=st.floats(4, 15), f_number=st.sampled_from([1.8, 2.8, 4.0, 8.0]))
def test_steady_light_exposes_right_or_says_what_is_wrong(ev, f_number):
    found = expose(Setup(f_number=f_number), light(exposure_value=ev), FULL_FRAME)
    assert found.power is None
    metered = math.log2(f_number**2 / found.shutter_s) - math.log2(found.iso / 100)
    if not found.over_stops:
        assert_allclose(metered, ev, atol=1e-9)
    if not found.short_stops:
        assert found.shutter_s <= 1 / 125 + 1e-9  # by hand, and the sitter's stillness
    assert 100 <= found.iso <= FULL_FRAME.highest_iso


def test_a_dim_window_asks_for_a_tripod_by_stops():
    dim = light(exposure_value=2.0)
    found = expose(Setup(f_number=4), dim, FULL_FRAME)
    # f/4 at EV 2 is 4 s at ISO 100, 1/8 s at 3200; by hand 1/125 s: 3.97 stops
    assert found.iso == 3200
    assert_allclose(found.short_stops, math.log2(125 / 8), atol=1e-6)


def test_sun_at_a_wide_aperture_is_too_strong():
    found = expose(Setup(f_number=1.4), light(exposure_value=15.0), FULL_FRAME)
    assert found.iso == 100
    assert_allclose(found.over_stops, math.log2(2**15 / 1.4**2 / 4000), atol=1e-6)


def test_a_lamps_lux_count_the_key_alone():
    lamp = light(lux_at_1m=4000)
    alone = expose(Setup(fill_ratio=ALL_KEY), lamp, FULL_FRAME)
    ev = math.log2(16 / alone.shutter_s) - math.log2(alone.iso / 100)
    assert_allclose(ev, steady_exposure_value(lamp, 1500), atol=1e-6)
    filled = expose(Setup(fill_ratio=2), lamp, FULL_FRAME)
    gained = math.log2(alone.shutter_s * alone.iso / (filled.shutter_s * filled.iso))
    assert_allclose(gained, 1, atol=1e-6)


def test_of_a_light_without_a_word_on_its_power_nothing_is_said():
    assert expose(Setup(), light(), FULL_FRAME) is None


@pytest.mark.parametrize("highest", [50.0, 100.0, 250.0])
def test_a_low_highest_iso_is_heeded(highest):
    camera = Camera(name="slow", sensor_width_mm=36, sensor_height_mm=24, highest_iso=highest)
    found = expose(Setup(f_number=16), light(guide_number_m_iso100=10), camera)
    assert found.iso == (200 if highest == 250 else 100)


def test_a_sun_of_which_the_hour_is_free_is_exposed_for_by_its_height():
    free, metered = sun_light((10.0, 45.0)), sun_light((10.0, 45.0), sun_exposure_value(30.0))
    high, low = (
        expose(Setup(f_number=11.0, key_elevation_deg=e), free, FULL_FRAME) for e in (40, 10)
    )
    assert high.shutter_s * high.iso < low.shutter_s * low.iso
    at_30 = Setup(f_number=11.0, key_elevation_deg=30)
    assert expose(at_30, metered, FULL_FRAME) == expose(at_30, free, FULL_FRAME)
    assert expose(at_30.with_changes(key_elevation_deg=45), metered, FULL_FRAME) == expose(
        at_30, free, FULL_FRAME
    )
    assert high.power is None
