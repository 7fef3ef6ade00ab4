"""The finer drawing surface keeps the head's corners and comes nearer to a true curve."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.facing import vertex_normals
from sitwell.head.surface import build_head
from sitwell.scene.refine import refine


def octasphere(radius_mm, times):
    """A sphere from an octahedron, its triangles split ``times`` times."""
    points = [np.eye(3)[i] * sign for i in range(3) for sign in (1.0, -1.0)]
    triangles = []
    for x in (0, 1):
        for y in (2, 3):
            for z in (4, 5):
                corner = [x, y, z]
                odd = np.linalg.det([points[i] for i in corner]) < 0
                triangles.append(corner[::-1] if odd else corner)
    points, triangles = np.array(points), np.array(triangles, dtype=np.int32)
    for _ in range(times):
        finer = refine(points, triangles, points)
        points, triangles = finer.places(points, np.eye(3)), finer.triangles
        points /= np.linalg.norm(points, axis=1, keepdims=True)
    return radius_mm * points, triangles


@pytest.mark.parametrize("times", [2, 3])
def test_new_corners_lie_nearer_to_a_sphere_than_the_straight_edges(times):
    points, triangles = octasphere(90.0, times)
    finer = refine(points, triangles, points / 90.0)
    new = finer.places(points, np.eye(3))[len(points) :]
    straight = finer.spread(points)[len(points) :]
    off, off_straight = (90.0 - np.linalg.norm(p, axis=1) for p in (new, straight))
    assert np.abs(off).max() < 0.2 * off_straight.max()


def test_old_corners_stay_and_triangles_come_in_fours():
    points, triangles = octasphere(90.0, 2)
    finer = refine(points, triangles, points / 90.0)
    assert_allclose(finer.places(points, np.eye(3))[: len(points)], points)
    assert finer.triangles.shape == (4 * len(triangles), 3)
    corners = {(t, c) for t in range(len(triangles)) for c in triangles[t]}
    kept = {(n // 4, c) for n, row in enumerate(finer.triangles) for c in row if c < len(points)}
    assert kept == corners


def test_the_finer_surface_turns_with_the_head():
    points, triangles = octasphere(90.0, 2)
    finer = refine(points, triangles, points / 90.0)
    turned = rotation_from_pose(30.0, -8.0, 5.0)
    expected = finer.places(points, np.eye(3)) @ turned.T
    assert_allclose(finer.places(points @ turned.T, turned), expected, atol=1e-9)


def test_a_head_keeps_its_creases_and_faces_outward():
    head = build_head()
    vertices = head.vertices_mm.astype(np.float64)
    normals = vertex_normals(vertices, head.triangles)
    finer = refine(vertices, head.triangles, normals)
    assert np.linalg.norm(finer.bulge_mm, axis=1).max() < 4.0
    corners = finer.places(vertices, np.eye(3))[finer.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    flat = normals[head.triangles].sum(axis=1)
    agrees = (across * np.repeat(flat, 4, axis=0)).sum(axis=1) > 0
    assert agrees.mean() > 0.99
