"""Inverse square law: exact mathematics."""

import pytest
from numpy.testing import assert_allclose

from sitwell.scene.light import falloff_stops


@pytest.mark.parametrize(("far_m", "stops"), [(2.0, 2.0), (1.4, 0.970854), (4.0, 4.0)])
def test_stops_lost_from_one_metre(far_m, stops):
    # stops = 2 log2(d2 / d1); 1.4 is not quite the square root of 2
    assert_allclose(falloff_stops(1000, far_m * 1000), stops, atol=1e-6)
