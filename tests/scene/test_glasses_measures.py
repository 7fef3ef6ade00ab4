import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.glasses_measures import Glasses, glare_measures
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer

POINT = {"key_size_mm": 1.0, "key_distance_mm": 2000}
SPECK = Glasses(width_mm=0.01, height_mm=0.01, tilt_deg=0, wrap_deg=0)


@pytest.fixture(scope="module")
def observer():
    return Observer(build_head())


def margins(observer, glasses, **changes):
    return np.array(glare_measures(observer.view(Setup(**changes)), glasses))


def test_no_glasses_no_number(observer):
    assert np.isnan(margins(observer, None)).all()


def test_a_pane_square_to_a_key_at_the_lens_glares(observer):
    assert (
        margins(observer, SPECK, key_azimuth_deg=0, key_elevation_deg=0, key_size_mm=300) < 0
    ).all()


@pytest.mark.parametrize("turn_deg", [4, 10, 15])
def test_turning_the_pane_turns_the_reflection_twice_as_far(observer, turn_deg):
    # exact for a lens and a key so far away that the pane's place is nothing
    far = {"distance_mm": 1e6, "key_distance_mm": 1e6, "key_size_mm": 1.0}
    turned = margins(
        observer, SPECK, turn_deg=turn_deg, key_azimuth_deg=0, key_elevation_deg=0, **far
    )
    assert_allclose(turned, 2 * turn_deg, atol=0.02)


def test_a_larger_key_or_pane_leaves_less_room(observer):
    aside = {"key_azimuth_deg": 40, "key_elevation_deg": 20}
    plain = margins(observer, Glasses(), **aside)
    assert (margins(observer, Glasses(), **aside, key_size_mm=1500) < plain).all()
    assert (margins(observer, Glasses(width_mm=60, height_mm=45), **aside) <= plain).all()


def test_a_larger_key_takes_its_half_angle_off(observer):
    small = margins(observer, SPECK, key_azimuth_deg=50, **POINT)
    large = margins(observer, SPECK, key_azimuth_deg=50, key_size_mm=1000, key_distance_mm=2000)
    taken = math.degrees(math.atan(500 / 2000) - math.atan(0.5 / 2000))
    assert_allclose(small - large, taken, atol=1e-6)


def test_raising_the_temples_clears_a_high_key(observer):
    # the pane's top leans forward, so the reflection goes down, away from a key above
    high = {"key_azimuth_deg": 0, "key_elevation_deg": 25}
    assert (
        margins(observer, Glasses(tilt_deg=16), **high)
        > margins(observer, Glasses(tilt_deg=4), **high)
    ).all()
