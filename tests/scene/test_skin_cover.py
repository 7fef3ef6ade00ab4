"""A head's texels: they lie on its surface, and piecework gives what all at once would give."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.skin_cover import PIECE, cover, pieces


@pytest.fixture(scope="module")
def ground():
    return cover(build_head())


@pytest.mark.parametrize("count", [0, 1, PIECE, PIECE + 1, 3 * PIECE + 7])
def test_pieces_make_the_whole_and_nothing_twice(count):
    every = np.zeros(count, dtype=int)
    for piece in pieces(count):
        assert piece.stop - piece.start <= PIECE
        every[piece] += 1
    assert (every == 1).all()


def test_what_is_linear_in_space_comes_back_at_each_texel(ground):
    slope = np.array([[0.3, -1.0], [0.7, 0.2], [-0.4, 0.5]])
    corners = ground.fine.places(ground.head.vertices_mm.astype(np.float64), np.eye(3))
    every = ground.spread_all(corners @ slope)
    assert_allclose(every, ground.places(slice(None)) @ slope, atol=1e-3)
    some = np.array([5, 70_000, len(every) - 1])
    assert_allclose(ground.spread(corners @ slope, some), every[some], atol=1e-3)


def test_texels_lie_on_their_own_part_of_the_head(ground):
    tip = ground.places(np.flatnonzero(ground.region == Region.NOSE_TIP))
    assert np.linalg.norm(tip - ground.head.point("nose_tip"), axis=1).max() < 20.0
    assert not np.isin(ground.region, [Region.SOCKET, Region.IRIS_OWN_LEFT]).any()


def test_sums_count_every_texel_once_on_its_own_triangle(ground):
    sums = ground.sums(np.ones(len(ground.region), dtype=np.float32))
    assert sums.sum() == len(ground.region)
    assert (sums[ground.head.region_of_triangle == Region.SOCKET] == 0.0).all()
    assert (sums[ground.head.region_of_triangle == Region.CHIN] > 0.0).all()
