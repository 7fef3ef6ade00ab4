"""Inverse square law: exact mathematics."""

import pytest
from numpy.testing import assert_allclose

from sitwell.scene.background import spill_stops
from sitwell.scene.setup import Setup

# A key in front, and no fill: what falls on the background is the key's alone.
FRONT = {"key_azimuth_deg": 0.0, "key_elevation_deg": 0.0, "fill_ratio": 1e9}


@pytest.mark.parametrize(("far_m", "stops"), [(2.0, 2.0), (1.4, 0.970854), (4.0, 4.0)])
def test_stops_lost_from_one_metre(far_m, stops):
    # stops = 2 log2(d2 / d1); 1.4 is not quite the square root of 2
    behind_mm = far_m * 1000.0 - 1000.0
    setup = Setup(key_distance_mm=1000.0, background_distance_mm=behind_mm, **FRONT)
    assert_allclose(spill_stops(setup), -stops, atol=1e-6)
