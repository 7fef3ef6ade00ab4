"""Light from many points with shadow maps: the law of a small lamp, and what stands in its way."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene.key_maps import draw_maps, light_at, light_disc

FAR_MM = 1500.0
NOBODY = np.zeros((3, 3)), np.zeros((0, 3), dtype=np.int32)
place = st.tuples(*[st.floats(-90.0, 90.0)] * 3)


def lamps_over(vertices, triangles, points):
    """Lamps that give 1 together, squarely, at the middle of the studio."""
    strengths = np.full(len(points), FAR_MM**2 / len(points))
    return draw_maps(vertices, triangles, np.zeros(3), points, strengths)


def plate(half_mm, aside_mm, ahead_mm):
    """A square facing the lamp, its middle ``aside_mm`` off the axis, ``ahead_mm`` nearer."""
    x, y = half_mm * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]).T
    corners = np.column_stack([x + aside_mm, y, np.full(4, ahead_mm)])
    return corners, np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)


@settings(deadline=None, max_examples=50)  # the first call compiles
@given(place, st.floats(-75.0, 75.0), st.floats(0.0, 360.0))
def test_a_small_lamp_falls_off_by_its_squared_distance_and_cosine(at, lean_deg, about_deg):
    lean, about = math.radians(lean_deg), math.radians(about_deg)
    normal = np.array(
        [math.sin(lean) * math.cos(about), math.sin(lean) * math.sin(about), math.cos(lean)]
    )
    lamp = np.array([300.0, 400.0, FAR_MM])
    lamps, maps = lamps_over(*NOBODY, lamp[None, :])
    away = lamp - np.array(at)
    distance = float(np.linalg.norm(away))
    cosine = max(float(away @ normal) / distance, 0.0)
    light = light_at(at, tuple(normal), lamps, maps)
    assert_allclose(light, cosine * (FAR_MM / distance) ** 2, rtol=1e-9)


@pytest.mark.parametrize(("aside_mm", "expected"), [(0.0, 0.0), (60.0, 1.0)])
def test_what_stands_before_a_small_lamp_takes_all_its_light(aside_mm, expected):
    lamps, maps = lamps_over(*plate(30.0, aside_mm, 50.0), np.array([[0.0, 0.0, FAR_MM]]))
    light = light_at((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), lamps, maps)
    assert_allclose(light, expected, atol=1e-9)


@pytest.mark.parametrize("lean_deg", range(0, 90, 10))
def test_a_surface_does_not_shade_itself_however_it_leans(lean_deg):
    lean = math.radians(lean_deg)
    corners, triangles = plate(80.0, 0.0, 0.0)
    corners[:, 2] = corners[:, 0] * math.tan(lean)
    lamp = np.array([[0.0, 0.0, FAR_MM]])
    normal = (-math.sin(lean), 0.0, math.cos(lean))
    shaded, open_ = lamps_over(corners, triangles, lamp), lamps_over(*NOBODY, lamp)
    for x in np.linspace(-60.0, 60.0, 41):
        at = (float(x), float(0.3 * x), float(x) * math.tan(lean))
        assert_allclose(light_at(at, normal, *shaded), light_at(at, normal, *open_), rtol=1e-9)


def test_a_plate_before_half_of_a_large_light_takes_half_of_it():
    points = light_disc(np.array([0.0, 0.0, FAR_MM]), 300.0, 64)
    # its edge is on the axis, and it reaches beyond the light's shadow
    lamps, maps = lamps_over(*plate(150.0, 150.0, 60.0), points)
    whole, none = lamps_over(*NOBODY, points)
    at, normal = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)
    share = light_at(at, normal, lamps, maps) / light_at(at, normal, whole, none)
    assert_allclose(share, 0.5, atol=0.05)  # of 64 points, some stand on the edge


def test_a_disc_of_points_is_even_and_faces_the_sitter():
    points = light_disc(np.array([600.0, 800.0, 1000.0]), 200.0, 400)
    middle = np.array([600.0, 800.0, 1000.0])
    off = points - middle
    assert_allclose(off @ middle, 0.0, atol=1e-6)
    radii = np.linalg.norm(off, axis=1)
    # the mean square radius of an even disc is half its radius squared
    assert_allclose((radii**2).mean(), 0.5 * 200.0**2, rtol=1e-6)
    assert_allclose(off.mean(axis=0), 0.0, atol=2.0)
