import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from sitwell.scene.raster import (
    NOTHING,
    count_shown,
    face_axes,
    facing_area,
    rasterise,
    recount_regions,
    visible_areas,
)

SIZE = 20


def draw(places, triangles, size=SIZE):
    """Places (V, 3): pixel x, y down, nearness."""
    x, y, near = np.array(places, dtype=float).T.copy()
    triangles = np.array(triangles, dtype=np.int32)
    shown = np.empty((size, size), dtype=np.int32)
    nearest = np.empty((size, size))
    covered = np.empty(len(triangles), dtype=np.int32)
    chosen = np.arange(len(triangles), dtype=np.int32)
    rasterise(x, y, near, triangles, chosen, shown, nearest, covered)
    return shown, nearest, covered


# counter-clockwise to the eye: y runs down, so right, then up
SQUARE = [(2, 12, 1.0), (12, 12, 1.0), (12, 2, 1.0), (2, 2, 1.0)]
TWO = [(0, 1, 2), (0, 2, 3)]


def test_a_square_covers_each_of_its_pixels_once():
    shown, _, covered = draw(SQUARE, TWO)
    assert covered.sum() == 100
    assert (shown >= 0).sum() == 100
    assert (shown[2:12, 2:12] >= 0).all()


def test_a_back_face_is_not_drawn():
    shown, _, covered = draw(SQUARE, [(0, 2, 1)])
    assert (shown == NOTHING).all()
    assert_array_equal(covered, [-1])


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_nearer_wins_in_either_order(order):
    far, near = [(x, y, 0.5) for x, y, _ in SQUARE], [(x + 3, y, 1.0) for x, y, _ in SQUARE]
    sheets = [TWO, [(4, 5, 6), (4, 6, 7)]]
    triangles = [triangle for n in order for triangle in sheets[n]]
    _, nearest, _ = draw(far + near, triangles)
    assert_allclose(nearest[5, 6:15], 1.0)
    assert_allclose(nearest[5, 2:5], 0.5)


def test_depth_is_straight_in_one_over_depth():
    tilted = [(0, 20, 0.1), (20, 20, 0.2), (20, 0, 0.2), (0, 0, 0.1)]
    _, nearest, _ = draw(tilted, TWO)
    assert_allclose(nearest[7], 0.1 + 0.1 * (np.arange(20) + 0.5) / 20)


def test_what_reaches_past_the_canvas_is_cut():
    big = [(-50, 60, 1.0), (60, 60, 1.0), (60, -50, 1.0), (-50, -50, 1.0)]
    shown, _, covered = draw(big, TWO)
    assert (shown >= 0).all()
    assert covered.sum() == SIZE * SIZE


corner = st.tuples(st.floats(-5, 25), st.floats(-5, 25), st.floats(0.1, 1))


@given(corners=st.lists(corner, min_size=3, max_size=3))
def test_covers_the_pixel_centres_inside_and_no_others(corners):
    (xi, yi, _), (xj, yj, _), (xk, yk, _) = corners
    double_area = (xj - xi) * (yk - yi) - (xk - xi) * (yj - yi)
    shown, _, covered = draw(corners, [(0, 1, 2)])
    if double_area >= 0:
        assert covered[0] == -1
        return
    x, y = np.meshgrid(np.arange(SIZE) + 0.5, np.arange(SIZE) + 0.5)
    edges = [
        (bx - ax) * (y - ay) - (by - ay) * (x - ax)
        for (ax, ay), (bx, by) in [((xi, yi), (xj, yj)), ((xj, yj), (xk, yk)), ((xk, yk), (xi, yi))]
    ]
    inside, doubtful = np.all(np.array(edges) < 0, axis=0), np.any(np.abs(edges) < 1e-6, axis=0)
    assert_array_equal((shown == 0)[~doubtful], inside[~doubtful])


def test_areas_are_exact_where_nothing_hides_them():
    places = [(2.3, 12.4, 1.0), (11.9, 13.1, 1.0), (9.2, 1.7, 1.0)]
    shown, nearest, covered = draw(places, [(0, 1, 2)])
    seen, areas = np.zeros(1, dtype=np.int32), np.empty(1)
    count_shown(shown, seen)
    x, y, near = np.array(places).T.copy()
    triangles = np.array([(0, 1, 2)], dtype=np.int32)
    visible_areas(triangles, x, -y, x, y, near, nearest, covered, seen, areas)
    exact = 0.5 * ((11.9 - 2.3) * (12.4 - 1.7) - (9.2 - 2.3) * (12.4 - 13.1))
    assert_allclose(areas, exact)
    assert_allclose(facing_area(triangles, x, -y, np.array([0], dtype=np.int32)), exact)


def test_a_triangle_between_pixel_centres_counts_whole_or_not_at_all():
    tiny = [(5.6, 5.9, 0.9), (5.9, 5.9, 0.9), (5.9, 5.6, 0.9)]
    wall = [(x, y, 0.5) for x, y, _ in SQUARE]
    hidden = [(x, y, 0.3) for x, y, _ in tiny]
    for extra, wanted in ((tiny, 0.045), (hidden, 0.0)):
        places = wall + extra
        triangles = np.array([*TWO, (4, 5, 6)], dtype=np.int32)
        shown, nearest, covered = draw(places, triangles)
        seen, areas = np.zeros(3, dtype=np.int32), np.empty(3)
        count_shown(shown, seen)
        x, y, near = np.array(places).T.copy()
        visible_areas(triangles, x, -y, x, y, near, nearest, covered, seen, areas)
        assert_allclose(areas[2], wanted, atol=1e-12)


def test_regions_are_recounted_from_a_canvas():
    shown, _, _ = draw(SQUARE, TWO)
    sums = np.array([7.0, 7.0, 7.0])
    region = np.array([1, 2], dtype=np.uint8)
    recount_regions(region, shown, np.array([1, 2], dtype=np.int32), 0.25, sums)
    assert sums[0] == 7.0
    assert_allclose(sums[1] + sums[2], 25.0)


@given(x=st.floats(-1, 1), y=st.floats(-1, 1), angle=st.floats(-3, 3))
def test_face_axes_turn_and_scale(x, y, angle):
    u, v = np.empty(1), np.empty(1)
    up_x, up_y = np.sin(angle), np.cos(angle)
    face_axes(np.array([x]), np.array([y]), 0.1, 0.2, up_x, up_y, 0.5, u, v)
    assert_allclose(np.hypot(u, v), np.hypot(x - 0.1, y - 0.2) / 0.5, atol=1e-12)
    assert_allclose(v, ((x - 0.1) * up_x + (y - 0.2) * up_y) / 0.5, atol=1e-12)
