"""What the tests of this folder share."""

import numpy as np
import pytest
from embreex import rtcore_scene
from embreex.mesh_construction import TriangleMesh

from sitwell.base.rotations import rotation_from_pose


@pytest.fixture(scope="session")
def seen_regions():
    """A far camera that tells the region in each pixel, independent of our own rasteriser."""
    return _seen_regions


def _seen_regions(head, turn_deg, chin_deg, centre_mm, half_mm, size_px=240):
    """Region in each pixel (size, size) of a far camera's picture, 255 where nothing is."""
    turned = rotation_from_pose(turn_deg, chin_deg, 0.0)
    corners = ((head.vertices_mm - centre_mm) @ turned.T)[head.triangles]
    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(corners, dtype=np.float32))
    across = ((np.arange(size_px) + 0.5) / size_px * 2 - 1) * half_mm
    x, y = np.meshgrid(across, -across)
    start = np.stack([x, y, np.full_like(x, 900.0)], axis=-1).reshape(-1, 3).astype(np.float32)
    rays = np.tile(np.array([0, 0, -1], dtype=np.float32), (len(start), 1))
    struck = scene.run(start, rays)
    labels = np.where(struck >= 0, head.region_of_triangle[struck], 255)
    return labels.reshape(size_px, size_px)
