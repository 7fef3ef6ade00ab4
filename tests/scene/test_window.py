import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import RoomError
from sitwell.brief.room import Room
from sitwell.scene.light import falloff_stops as small_source_falloff_stops
from sitwell.scene.setup import Setup
from sitwell.scene.window import (
    Window,
    by_the_window,
    effective_size_mm,
    falloff_stops,
    room_fill_ratio,
    sky_share,
    stand_for,
    window_as_light,
)

WINDOW = Window(width_mm=1200, height_mm=1400, sill_mm=900)
EYES_MM = 1200.0
lengths = st.floats(300, 3000)


@given(width=lengths, height=lengths, distance=st.floats(400, 5000), aside=st.floats(-1500, 1500))
def test_the_share_is_lamberts_sum_over_the_opening(width, height, distance, aside):
    # light of a matte patch: cosine at both ends over pi times the distance squared, added up
    x = (np.arange(200) + 0.5) / 200 * width - width / 2 - aside
    y = (np.arange(200) + 0.5) / 200 * height - height / 2
    squared = x[:, None] ** 2 + y**2 + distance**2
    total = (distance**2 / (math.pi * squared**2)).sum() * width * height / 200**2
    share = sky_share(Window(width_mm=width, height_mm=height), distance, aside_mm=aside)
    assert_allclose(share, total, rtol=2e-3)


def test_touching_the_glass_sees_sky_all_over():
    assert_allclose(sky_share(WINDOW, 1.0), 1.0, atol=1e-4)


def test_far_off_it_falls_with_the_square_of_the_distance():
    assert_allclose(falloff_stops(WINDOW, 40_000, 80_000), 2.0, atol=1e-2)


@given(near=st.floats(300, 2000), more=st.floats(1.2, 3))
def test_near_it_falls_less_than_a_small_source(near, more):
    assert falloff_stops(WINDOW, near, near * more) > 0
    assert falloff_stops(WINDOW, near, near * more) < small_source_falloff_stops(near, near * more)


def test_the_disc_has_the_windows_area():
    assert_allclose(math.pi * (effective_size_mm(WINDOW) / 2) ** 2, WINDOW.area_mm2)
    french = Window(width_mm=1200, height_mm=2200, sill_mm=0)
    assert effective_size_mm(french, EYES_MM) < effective_size_mm(french)


def test_the_sitter_moves_for_the_height_and_the_camera_for_the_side():
    room = Room(name="room", depth_mm=4000)
    setup = Setup(key_azimuth_deg=-40, key_elevation_deg=20)
    stand = stand_for(WINDOW, setup, EYES_MM, room)
    assert_allclose(stand.from_window_mm, 400 / math.tan(math.radians(20)), rtol=1e-9)
    assert_allclose(stand.elevation_deg, 20)
    moved = by_the_window(WINDOW, setup, stand)
    assert_allclose((moved.key_azimuth_deg, moved.key_elevation_deg), (-40, 20))
    assert_allclose(moved.key_distance_mm, math.hypot(stand.from_window_mm, 400))


def test_the_sitter_stays_in_the_room_and_off_the_glass():
    small = Room(name="small", depth_mm=2200)
    low = stand_for(WINDOW, Setup(key_elevation_deg=2), EYES_MM, small)
    assert low.from_window_mm == 2200
    high = stand_for(WINDOW, Setup(key_elevation_deg=55), EYES_MM, small)
    assert high.from_window_mm == 600
    assert high.elevation_deg < 55
    below = stand_for(WINDOW, Setup(key_distance_mm=1500), 1700.0, small)
    assert below.from_window_mm == 1500
    assert below.elevation_deg < 0


def test_as_a_light_its_height_follows_from_its_distance():
    light = window_as_light(WINDOW, EYES_MM, (800, 2000))
    assert light.azimuth_deg == (-90, 90)
    assert_allclose(light.elevation_deg, np.degrees(np.arctan2(400, [2000, 800])))


def test_lighter_walls_fill_more_and_nearer_is_steeper():
    room = Room(name="room")
    dark, light = (room_fill_ratio(WINDOW, 1200, room, r) for r in (0.2, 0.7))
    assert 1 < light < dark
    assert room_fill_ratio(WINDOW, 800, room) > room_fill_ratio(WINDOW, 2000, room)


def test_the_rooms_return_is_an_integrating_spheres():
    # in a white room (reflectance near 1) light comes from everywhere alike: no ratio left
    assert_allclose(room_fill_ratio(WINDOW, 1500, Room(name="room"), 0.9999), 1, atol=0.01)


def test_no_window_is_refused():
    with pytest.raises(RoomError, match="The window's width_mm is 0; give a length above zero"):
        Window(width_mm=0, height_mm=1)


def test_walls_that_return_all_are_refused():
    with pytest.raises(RoomError, match="The reflectance 1 is not that of a wall; give a share"):
        room_fill_ratio(WINDOW, 1000, Room(name="room"), 1.0)
