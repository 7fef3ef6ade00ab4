import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.scene.rays import first_hit

TRIANGLE = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
ONE = np.array([[0, 1, 2]], dtype=np.int32)
CHOSEN = np.array([0], dtype=np.int32)


def hit(start, direction, least=0.0):
    return first_hit(
        np.array(start, float), np.array(direction, float), TRIANGLE, ONE, CHOSEN, least
    )


def test_a_ray_meets_a_triangle_from_both_sides():
    assert_allclose(hit([0.2, 0.3, 5], [0, 0, -1]), 5)
    assert_allclose(hit([0.2, 0.3, -4], [0, 0, 1]), 4)


@pytest.mark.parametrize(
    ("start", "direction"),
    [
        ([0.8, 0.8, 5], [0, 0, -1]),  # beside it
        ([0.2, 0.2, 5], [0, 0, 1]),  # away from it
        ([0.2, 0.2, 5], [1, 0, 0]),  # along it
    ],
)
def test_a_ray_misses(start, direction):
    assert hit(start, direction) == math.inf


def test_a_hit_nearer_than_asked_is_passed_over():
    assert hit([0.2, 0.3, 0.5], [0, 0, -1], least=1.0) == math.inf
