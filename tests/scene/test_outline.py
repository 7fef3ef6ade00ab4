import math

import numpy as np
from numpy.testing import assert_allclose

from sitwell.scene.outline import (
    at_level,
    depth_step_under,
    extent_at,
    outline_rows,
    slice_extent,
    stands_out,
)

# a circle of 360 edges, radius 2 about (1, 0)
ANGLES = np.radians(np.arange(360))
U, V = 1 + 2 * np.cos(ANGLES), 2 * np.sin(ANGLES)
CIRCLE = np.stack([np.arange(360), np.roll(np.arange(360), -1)], axis=1).astype(np.int32)


def test_extent_of_a_circle_is_its_chord():
    for level in (-1.7, 0.013, 1.2):
        half = math.sqrt(4 - level**2)
        assert_allclose(extent_at(U, V, CIRCLE, level), (1 - half, 1 + half), atol=1e-3)


def test_nothing_crosses_above_the_circle():
    assert extent_at(U, V, CIRCLE, 2.5) == (math.inf, -math.inf)


def test_rows_are_the_extents():
    left, right = np.empty(21), np.empty(21)
    outline_rows(U, V, CIRCLE, -1.9, 1.9, left, right)
    for row, level in enumerate(np.linspace(-1.9, 1.9, 21)):
        assert_allclose((left[row], right[row]), extent_at(U, V, CIRCLE, level), atol=1e-6)


def test_between_rows_is_straight_and_the_ends_hold():
    rows = np.array([0.0, 2.0, 1.0])
    assert_allclose(at_level(rows, 10.0, 20.0, 12.5), 1.0)
    assert_allclose(at_level(rows, 10.0, 20.0, 17.5), 1.5)
    assert at_level(rows, 10.0, 20.0, 5.0) == 0.0
    assert at_level(rows, 10.0, 20.0, 30.0) == 1.0


def test_standing_out_counts_past_the_outline_on_its_own_side_only():
    rows = np.full(5, 1.0)
    u, v = np.array([1.3, 0.8, -4.0]), np.array([0.2, 0.5, 0.5])
    everyone = np.arange(3, dtype=np.int32)
    assert_allclose(stands_out(u, v, everyone, 1.0, rows, 0.0, 1.0), 0.3)
    assert stands_out(u, v, everyone[1:2], 1.0, rows, 0.0, 1.0) == 0
    assert_allclose(stands_out(u, v, everyone, -1.0, -rows, 0.0, 1.0), 3.0)


def test_a_slice_lies_on_its_edges():
    u = np.array([0.0, 4.0, -2.0])
    first, second = np.array([0, 2], dtype=np.int32), np.array([1, 0], dtype=np.int32)
    assert_allclose(slice_extent(u, first, second, np.array([0.25, 0.5])), (-1.0, 1.0))


def test_depth_steps_down_from_jaw_to_neck():
    # two columns: a step of 10 mm, and one of 30 mm that counts as 20
    shown = np.array([[0, 0], [1, 1]], dtype=np.int32)
    nearest = 1 / np.array([[1000.0, 1000.0], [1010.0, 1030.0]])
    region = np.array([0, 1], dtype=np.uint8)
    upper, lower = np.array([True, False]), np.array([False, True])
    assert_allclose(depth_step_under(shown, nearest, region, upper, lower, 20.0), (0.5 + 1) / 2)
    assert depth_step_under(shown[::-1].copy(), nearest, region, upper, lower, 20.0) == 0
