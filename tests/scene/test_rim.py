import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene.camera import camera_for
from sitwell.scene.lighting import rim_points_mm
from sitwell.scene.rim import (
    needs_boom,
    outside_picture_deg,
    rim_edge_mm,
    rim_margin_deg,
    rim_place_mm,
)
from sitwell.scene.setup import Setup


def test_the_rim_light_stands_where_its_angles_say():
    behind = Setup(rim_azimuth_deg=180, rim_elevation_deg=0, rim_distance_mm=1200)
    assert_allclose(rim_place_mm(behind), [0, 0, -1200], atol=1e-9)
    above = Setup(rim_azimuth_deg=-135, rim_elevation_deg=45, rim_distance_mm=2000)
    assert_allclose(rim_place_mm(above), [-1000, math.sqrt(2) * 1000, -1000], atol=1e-9)


@given(
    azimuth=st.one_of(st.floats(100, 180), st.floats(-180, -100)),
    elevation=st.floats(-20, 80),
    size=st.floats(50, 1500),
)
def test_its_face_looks_at_the_sitter_and_its_edge_is_its_size(azimuth, elevation, size):
    setup = Setup(rim_azimuth_deg=azimuth, rim_elevation_deg=elevation, rim_size_mm=size)
    middle, *edge = rim_edge_mm(setup)
    assert_allclose(rim_points_mm(setup)[0], middle)
    for point in edge:
        assert_allclose((point - middle) @ middle, 0, atol=1e-6)
        assert_allclose(np.linalg.norm(point - middle), size / 2)


def test_outside_the_picture_counts_from_its_corner():
    # 50 mm at infinity on 36 x 24: half the diagonal's angle of view is 23.4 degrees
    setup = Setup(focal_mm=50, distance_mm=1e9)
    camera = camera_for(setup.with_changes(distance_mm=2000), np.zeros(3))
    half = math.degrees(math.atan(math.hypot(36, 24) / 2 / 50))
    at_40 = camera.lens_mm + 1000 * np.array([math.sin(math.radians(40)), 0, -math.cos(0.69813170)])
    margin = outside_picture_deg(setup, camera, np.array([at_40, [0, 0, 0]]))
    assert_allclose(margin, [40 - half, -half], atol=1e-4)


def test_a_longer_lens_leaves_a_rim_light_farther_outside():
    margins = [rim_margin_deg(Setup(focal_mm=focal)) for focal in (50, 85, 135)]
    assert margins[0] < margins[1] < margins[2]


@pytest.mark.parametrize(
    ("changes", "boom"),
    [
        ({"rim_azimuth_deg": 120, "rim_elevation_deg": 30}, False),
        ({"rim_azimuth_deg": 180, "rim_elevation_deg": 45}, True),  # straight behind: in picture
        ({"rim_azimuth_deg": 110, "rim_elevation_deg": 80}, True),  # over the sitter
    ],
)
def test_a_lamp_over_or_behind_the_sitter_hangs_from_a_boom(changes, boom):
    assert needs_boom(Setup(**changes)) is boom
