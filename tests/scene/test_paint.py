"""Paint on triangles: exact for linear colours, one value on a common edge, paper where unknown."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene.paint import HATCH_SHADE, hatch_line, lay_out, painted

CORNERS = np.array([[[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [2.0, 7.0, 0.0]]])
share = st.floats(0.0, 1.0)


ROWS = 800
LINES = [hatch_line(0, column, ROWS) for column in range(40)]
OFF_LINE, ON_LINE = (0, LINES.index(0.0), ROWS), (0, LINES.index(1.0), ROWS)


def colour_at(grid, texels, second, third, pixel=OFF_LINE):
    return painted(texels, grid.first[0], grid.steps[0], second, third, pixel)


@settings(deadline=None)  # the first call compiles
@given(share, share, st.floats(0.4, 6.0))
def test_a_linear_colour_comes_back_exactly(along, height, texel_mm):
    second, third = along * (1.0 - height), height
    grid = lay_out(CORNERS, np.array([texel_mm]))
    ends = np.array([[0.1, 0.2, 0.9], [0.8, 0.3, 0.1], [0.4, 0.7, 0.5]])
    texels = np.ones((len(grid.triangle), 4), dtype=np.float32)
    texels[:, :3] = grid.weights @ ends
    expected = np.array([1.0 - second - third, second, third]) @ ends
    assert_allclose(colour_at(grid, texels, second, third), expected, atol=1e-5)


def test_texels_cover_each_triangle_once_and_none_lies_on_a_bare_one():
    corners = np.repeat(CORNERS, 3, axis=0)
    grid = lay_out(corners, np.array([3.0, np.nan, 1.0]))
    assert grid.steps.tolist() == [4, 0, 10]  # the longest edge is 9.9 mm
    assert np.bincount(grid.triangle, minlength=3).tolist() == [15, 0, 66]
    assert_allclose(grid.weights.sum(axis=1), 1.0, atol=1e-6)
    assert grid.weights.min() >= -1e-6


def test_the_hatch_darkens_what_is_unknown_and_nothing_else():
    grid = lay_out(CORNERS, np.array([2.0]))
    texels = np.full((len(grid.triangle), 4), 0.4, dtype=np.float32)
    for known, dim in ((1.0, 1.0), (0.5, 1.0 - 0.5 * HATCH_SHADE), (0.0, 1.0 - HATCH_SHADE)):
        texels[:, 3] = known
        assert_allclose(colour_at(grid, texels, 0.2, 0.3), 0.4, atol=1e-6)
        assert_allclose(colour_at(grid, texels, 0.2, 0.3, ON_LINE), 0.4 * dim, atol=1e-6)


def test_the_hatch_is_a_quiet_pattern_of_lines():
    lines = np.array([[hatch_line(r, c, 800) for c in range(80)] for r in range(80)])
    assert 0.25 < lines.mean() < 0.7
    assert_allclose(lines[1:, :-1], lines[:-1, 1:])  # lines run one way, at 45 degrees
