import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene import background, light
from sitwell.scene.lighting import hardness, key_place_mm, key_points_mm
from sitwell.scene.setup import Setup


def dense_disc(setup, count=4000):
    """Points spread evenly over the key's face, by rings (not the five that are under test)."""
    middle = key_place_mm(setup)
    towards = middle / np.linalg.norm(middle)
    aside = np.cross([0.0, 1.0, 0.0], towards)
    aside /= np.linalg.norm(aside)
    rise = np.cross(towards, aside)
    rings = 40
    radii = 0.5 * setup.key_size_mm * np.sqrt((np.arange(rings) + 0.5) / rings)
    angles = np.linspace(0, 2 * math.pi, count // rings, endpoint=False)
    r, a = (grid.ravel() for grid in np.meshgrid(radii, angles))
    return middle + (r * np.cos(a))[:, None] * aside + (r * np.sin(a))[:, None] * rise


def light_on(normal, points, reference_mm):
    distance = np.linalg.norm(points, axis=1)
    cosine = np.maximum(points @ normal / distance, 0.0)
    return float(np.mean(cosine * (reference_mm / distance) ** 2))


@pytest.mark.parametrize("size_mm", [100, 600, 1200])
@pytest.mark.parametrize("slant_deg", [0, 30, 60, 80, 90, 100])
def test_five_points_light_a_surface_like_the_whole_disc(size_mm, slant_deg):
    setup = Setup(key_azimuth_deg=20, key_elevation_deg=25, key_size_mm=size_mm)
    key = key_place_mm(setup) / setup.key_distance_mm
    across = np.cross(key, [0.3, 0.9, 0.2])
    across /= np.linalg.norm(across)
    slant = math.radians(slant_deg)
    normal = math.cos(slant) * key + math.sin(slant) * across
    five = light_on(normal, key_points_mm(setup), setup.key_distance_mm)
    whole = light_on(normal, dense_disc(setup), setup.key_distance_mm)
    assert_allclose(five, whole, atol=0.02)  # of full light; worst where half the disc has set


def test_the_key_stands_where_its_angles_say():
    assert_allclose(
        key_place_mm(Setup(key_azimuth_deg=90, key_elevation_deg=0)), [1500, 0, 0], atol=1e-9
    )
    assert_allclose(
        key_place_mm(Setup(key_azimuth_deg=0, key_elevation_deg=90)), [0, 1500, 0], atol=1e-9
    )


@given(azimuth_deg=st.floats(-90, 90), elevation_deg=st.floats(-60, 90))
def test_the_keys_face_looks_at_the_sitter(azimuth_deg, elevation_deg):
    setup = Setup(key_azimuth_deg=azimuth_deg, key_elevation_deg=elevation_deg)
    middle, *ring = key_points_mm(setup)
    assert_allclose(np.mean(ring, axis=0), middle, atol=1e-9)
    for point in ring:
        assert_allclose((point - middle) @ middle, 0, atol=1e-6)


def test_a_larger_or_nearer_key_is_softer():
    plain = hardness(Setup())
    assert hardness(Setup(key_size_mm=1500)) < plain < hardness(Setup(key_size_mm=200))
    assert hardness(Setup(key_distance_mm=800)) < plain
    assert 0 < hardness(Setup(key_size_mm=1)) < 1


@given(ratio=st.floats(1, 20))
def test_key_and_fill_are_shares(ratio):
    key, fill = light.key_and_fill(ratio)
    assert_allclose(key + fill, 1)
    assert_allclose(fill * ratio, 1)


def test_a_background_falls_off_with_the_square_of_the_distance():
    # key 1.5 m from the face, background 1.5 m behind: twice as far, two stops
    setup = Setup(key_azimuth_deg=0.0, key_elevation_deg=0.0, fill_ratio=1e9,
                  key_distance_mm=1500.0, background_distance_mm=1500.0)  # fmt: skip
    assert_allclose(background.spill_stops(setup), -2)
    assert_allclose(background.spill_stops(setup, tone_stops=1), -1)
    assert_allclose(background.background_luminance(-2), 0.25)
