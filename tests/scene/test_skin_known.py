"""What counts as known: narrow gaps close, wide ones stay, small islands go."""

import numpy as np
import pytest

from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.skin_cover import cover
from sitwell.scene.skin_known import (
    close_gaps,
    known_of_triangles,
    like_skin,
    without_islands,
)

from .sitting import EYES


@pytest.fixture(scope="module")
def skin():
    ground = cover(build_head())
    return ground, ground.places(slice(None))


def gap_closed(skin, half_width_mm):
    """Known share in the middle of a gap down one cheek, and its red."""
    ground, places = skin
    cheek = ground.head.point("cheekbone_own_left")
    off = np.abs(places[:, 0] - (cheek[0] - 12.0))
    near = (np.abs(places - cheek).max(axis=1) < 40.0) & (off < half_width_mm)
    known = np.where(near, 0.0, 1.0)
    colour = np.full((len(known), 3), 0.4)
    colour[near] = 0.0
    close_gaps(ground, colour, known)
    middle = near & (off < 0.4) & (ground.region == Region.CHEEK_OWN_LEFT)
    assert middle.sum() > 10
    return known[middle].mean(), colour[middle, 0].mean()


def test_a_narrow_gap_takes_the_colour_beside_it(skin):
    known, red = gap_closed(skin, 0.9)
    assert known > 0.9
    assert red == pytest.approx(0.4, abs=0.01)


def test_a_wide_gap_stays_unknown(skin):
    assert gap_closed(skin, 8.0)[0] < 0.1  # its ends touch known skin


def test_a_small_island_goes_and_the_face_stays(skin):
    ground, places = skin
    face = places[:, 2] > 0.0
    island = np.linalg.norm(places - ground.head.point("ear_outer_own_left"), axis=1) < 12.0
    kept = without_islands(ground, (face | island).astype(float))
    assert kept[island].sum() == 0.0
    assert kept[face].mean() > 0.95


def test_a_covered_ear_is_unknown_and_a_bare_one_known(skin):
    ground, _ = skin
    region = ground.region
    colour = np.full((len(region), 3), (0.4, 0.3, 0.24))
    colour[region == Region.EAR_OWN_LEFT] = (0.05, 0.04, 0.03)
    known = np.ones(len(region))
    eyes = dict.fromkeys(("own_left", "own_right"), EYES)
    alike = like_skin(ground, colour, known, eyes)
    assert alike[region == Region.EAR_OWN_LEFT].max() == 0.0
    assert alike[region == Region.EAR_OWN_RIGHT].min() == 1.0
    assert alike[region == Region.SCALP].min() == 1.0


def test_the_share_of_a_triangle_is_its_texels_mean_and_bare_ones_count_as_told(skin):
    ground, _ = skin
    head = ground.head
    known = (ground.region == Region.CHIN).astype(float)
    shares = known_of_triangles(ground, known)
    assert (shares[head.region_of_triangle == Region.CHIN] == 1.0).all()
    assert (shares[head.region_of_triangle == Region.SCALP] == 0.0).all()
    assert (shares[head.region_of_triangle == Region.SOCKET] == 1.0).all()
    assert (
        known_of_triangles(ground, known, bare=0.0)[head.region_of_triangle == Region.SOCKET].max()
        == 0.0
    )
