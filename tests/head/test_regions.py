"""The painting: every patch in one piece, alike on both sides, seen where it should be."""

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sitwell.head.regions import EAR, EYE, FACE, NOSE, NOT_FACE, Region
from sitwell.head.surface import build_head


@pytest.fixture(scope="module")
def head():
    return build_head()


def area_mm2(head, region):
    corners = head.vertices_mm[head.triangles[head.region_of_triangle == region]].astype(float)
    return (
        np.linalg.norm(
            np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
        ).sum()
        / 2
    )


def pieces(head, region):
    """How many pieces the triangles of a region form, joined by shared sides."""
    triangles = np.sort(head.triangles[head.region_of_triangle == region], axis=1)
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [0, 2]]])
    owner = np.tile(np.arange(len(triangles)), 3)
    _, shared = np.unique(sides, axis=0, return_inverse=True)
    order = np.argsort(shared.ravel(), kind="stable")
    same = shared.ravel()[order][1:] == shared.ravel()[order][:-1]
    a, b = owner[order][1:][same], owner[order][:-1][same]
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(len(triangles), len(triangles)))
    return connected_components(graph, directed=False)[0]


@pytest.mark.parametrize("region", [r for r in Region if r != Region.SOCKET])
def test_each_patch_is_one_piece(head, region):
    assert pieces(head, region) == 1


def test_hidden_linings_are_the_mouth_and_two_pockets(head):
    assert pieces(head, Region.SOCKET) == 3


@pytest.mark.parametrize("region", [r for r in Region if r.name.endswith("OWN_LEFT")])
def test_both_sides_have_the_same_area(head, region):
    left, right = area_mm2(head, region), area_mm2(head, region.mirrored)
    assert abs(left - right) < 0.03 * left


def test_mirrored_goes_both_ways():
    assert Region.EAR_OWN_LEFT.mirrored == Region.EAR_OWN_RIGHT
    assert Region.CHIN.mirrored == Region.CHIN
    assert all(region.mirrored.mirrored == region for region in Region)


def test_groups_hold_what_they_say():
    assert set(Region) == FACE | NOT_FACE
    assert not FACE & NOT_FACE
    assert len(EYE) == 4
    assert len(EAR) == 2
    assert len(NOSE) == 10


@pytest.mark.parametrize("region", ["OWN_LEFT", "OWN_RIGHT"])
def test_nostrils_show_with_the_chin_up(seen_regions, head, region):
    """Seen at chin +15, a third of that left at -10, hardly anything at -20."""

    def shown(chin_deg):
        seen = seen_regions(head, 0.0, chin_deg, np.array([0.0, -42.0, 25.0]), 30.0)
        return np.count_nonzero(seen == Region[f"NOSTRIL_{region}"])

    assert shown(15.0) > 150
    assert shown(-10.0) < 0.4 * shown(15.0)
    assert shown(-20.0) < 0.12 * shown(15.0)
    counts = [shown(chin) for chin in (-20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0)]
    assert counts == sorted(counts)


def test_no_lining_shows_in_front(seen_regions, head):
    seen = seen_regions(head, 0.0, 0.0, np.array([0.0, -20.0, 0.0]), 120.0, 600)
    assert np.count_nonzero(seen == Region.SOCKET) < 0.0005 * np.count_nonzero(seen != 255)


def test_patches_lie_in_their_place(head):
    def middle(region):
        corners = head.vertices_mm[head.triangles[head.region_of_triangle == region]]
        return corners.mean(axis=(0, 1))

    assert middle(Region.FOREHEAD)[1] > middle(Region.BROW_OWN_LEFT)[1]
    assert middle(Region.BROW_OWN_LEFT)[1] > middle(Region.IRIS_OWN_LEFT)[1]
    assert middle(Region.NOSE_TIP)[2] > middle(Region.NOSE_RIDGE)[2]
    assert middle(Region.NOSTRIL_OWN_LEFT)[1] < middle(Region.NOSE_TIP)[1]
    assert middle(Region.UNDER_JAW)[1] < middle(Region.CHIN)[1]
    assert middle(Region.SCALP)[2] < middle(Region.FOREHEAD)[2]
    assert middle(Region.EAR_OWN_LEFT)[0] > middle(Region.CHEEK_OWN_LEFT)[0] > 0
