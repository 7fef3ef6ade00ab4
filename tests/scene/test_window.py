import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import RoomError
from sitwell.brief.place_light import Window, disc_mm, window_light
from sitwell.brief.room import Room
from sitwell.scene.setup import Setup
from sitwell.scene.window import elevation_at_deg, room_fill_ratio, room_ratio, sky_share, stand_by

WINDOW = Window(width_mm=1200, height_mm=1400, sill_mm=900)
EYES_MM = 1200.0
lengths = st.floats(300, 3000)


def lost(near_mm, far_mm):
    return sky_share(WINDOW, near_mm) / sky_share(WINDOW, far_mm)


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
    assert_allclose(math.log2(lost(40_000, 80_000)), 2.0, atol=1e-2)


@given(near=st.floats(300, 2000), more=st.floats(1.2, 3))
def test_near_it_falls_less_than_a_small_source(near, more):
    assert 0 < math.log2(lost(near, near * more)) < 2.0 * math.log2(more)


def test_the_disc_has_the_windows_area():
    assert_allclose(math.pi * (disc_mm(WINDOW.area_mm2) / 2) ** 2, WINDOW.area_mm2)


def test_a_keys_room_is_that_of_a_square_window_of_its_area():
    room = Room(name="room")
    square = Window(width_mm=1200, height_mm=1200)
    setup = Setup(key_distance_mm=1500, key_elevation_deg=0)
    ratio = room_ratio(disc_mm(square.area_mm2), setup, room)
    assert_allclose(ratio, room_fill_ratio(square, 1500, room))


def test_square_before_the_window_the_camera_stands_between():
    # 1.5 m off the window, the camera 1 m from the sitter straight toward it: 0.5 m off the wall
    stand = stand_by(
        Setup(key_azimuth_deg=0, key_elevation_deg=0, key_distance_mm=1500, distance_mm=1000)
    )
    assert_allclose(
        (stand.from_window_mm, stand.camera_from_wall_mm, stand.camera_aside_mm), (1500, 500, 0)
    )


@given(
    round_deg=st.floats(-90, 90),
    elevation=st.floats(0, 40),
    key=st.floats(600, 3000),
    camera=st.floats(900, 5000),
)
def test_where_they_stand_gives_the_key_back(round_deg, elevation, key, camera):
    setup = Setup(
        key_azimuth_deg=round_deg,
        key_elevation_deg=elevation,
        key_distance_mm=key,
        distance_mm=camera,
    )
    stand = stand_by(setup)
    toward = stand.from_window_mm - stand.camera_from_wall_mm
    assert_allclose(math.hypot(toward, stand.camera_aside_mm), camera)
    assert_allclose(
        math.degrees(math.atan2(stand.camera_aside_mm, toward)), abs(round_deg), atol=1e-6
    )


def test_whoever_stands_before_the_window_takes_its_light():
    def clear(round_deg, **changes):
        setup = Setup(
            key_azimuth_deg=round_deg,
            key_elevation_deg=0,
            key_distance_mm=2000,
            distance_mm=1000,
            **changes,
        )
        return stand_by(setup).clear_of_light_mm(1200)

    # halfway to a window 1.2 m wide its light is 0.6 m wide; half of it and half of a person
    assert_allclose(clear(0), -300 - 250)
    # at a right angle the camera is beside the sitter, where the light has no width left
    assert_allclose(clear(90), 1000 - 250)
    assert clear(20) < 0 < clear(60)


def test_a_window_stands_higher_from_near_by():
    assert_allclose(elevation_at_deg(400, 800), 30)
    assert elevation_at_deg(400, 2000) < elevation_at_deg(400, 800)
    assert elevation_at_deg(-200, 1000) < 0


def test_as_a_light_it_can_be_walked_round_and_keeps_its_height():
    light = window_light(WINDOW, (800, 2000))
    assert light.azimuth_deg == (-90, 90)
    assert light.middle_mm == 900 + 1400 / 2
    assert (light.kind(), light.stays(), light.is_fixed()) == ("window", True, False)
    assert_allclose(light.size_mm, disc_mm(WINDOW.area_mm2))


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
