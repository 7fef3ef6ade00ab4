"""Putting a scan in place: a known similarity comes back, a drawn surface gives its points back."""

from itertools import islice

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.basis import landmark_basis
from sitwell.head.surface import build_head
from sitwell.scene.scan_face import _cast_back, _directions, _drawn, _similarity
from sitwell.scene.scan_file import Surface

angle = st.floats(-180.0, 180.0)


@settings(deadline=None, max_examples=25)
@given(angle, angle, st.floats(0.001, 30.0))
def test_a_known_similarity_comes_back(turn_deg, tilt_deg, scale):
    target = landmark_basis().mean_mm
    turn = rotation_from_pose(turn_deg, 20.0, tilt_deg)
    points = (target @ turn) / scale + (4.0, -2.0, 1.0)
    placed = _similarity(points)
    assert_allclose(placed.scale, scale, rtol=1e-6)
    assert_allclose(placed.rotation, turn, atol=1e-6)
    assert_allclose(placed.carry(points), target, atol=1e-5)
    assert placed.rest_mm < 1e-5


def test_landmarks_that_lie_wrong_or_nowhere_do_not_pull():
    target = landmark_basis().mean_mm
    points = target / 1000.0
    points[::9] += 0.04
    points[5::30] = np.nan
    assert_allclose(_similarity(points).scale, 1000.0, rtol=1e-3)


def test_every_direction_is_a_rotation():
    for way in islice(_directions(), 40):
        assert_allclose(way @ way.T, np.eye(3), atol=1e-12)
        assert_allclose(np.linalg.det(way), 1.0)


def test_points_cast_back_lie_on_the_surface():
    head = build_head()
    vertices = head.vertices_mm.astype(np.float64) / 1000.0
    surface = Surface(vertices=vertices, triangles=head.triangles, tone=np.ones(len(vertices)))
    way = rotation_from_pose(20.0, 5.0, 0.0)
    seen, middle, scale = vertices @ way.T, np.zeros(3), 1200.0
    rgb, depth = _drawn(surface, seen, way, middle, scale, 480)
    assert rgb.shape == (480, 480, 3)
    tip = head.point("nose_tip").astype(np.float64) / 1000.0
    x, y, _ = way @ tip
    place = np.array([[240.0 + scale * x, 240.0 - scale * y], [2.0, 2.0]])
    found = _cast_back(place, depth, way, middle, scale, 480)
    assert_allclose(found[0], tip, atol=0.0015)
    assert np.isnan(found[1]).any()
