"""Which way the skin of a head faces, and what of it lies in front."""

import numpy as np
from numpy.typing import NDArray

_CELL_MM = 3.0
_BLOCKED_MM = 6.0

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


def to_vertices(triangles: Ints, values: Floats, count: int) -> Floats:
    """Mean over the triangles around each vertex, of values (T, C); gives (V, C)."""
    times = np.maximum(np.bincount(triangles.ravel(), minlength=count), 1)
    sums = [
        np.bincount(triangles.ravel(), weights=np.repeat(column, 3), minlength=count)
        for column in values.T
    ]
    return np.stack(sums, axis=1) / times[:, None]


def vertex_normals(vertices: Floats, triangles: Ints) -> Floats:
    """Unit normals (V, 3), each triangle around a vertex counting by its area."""
    corners = vertices[triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sums = to_vertices(triangles, across, len(vertices))
    return sums / np.maximum(np.linalg.norm(sums, axis=1, keepdims=True), 1e-12)


def in_front(every_place: Floats, place: Floats) -> NDArray[np.bool_]:
    """Whether each place (n, 3) has none of every_place more than a little before it along z."""
    low = every_place[:, :2].min(axis=0) - _CELL_MM
    shape = np.ceil((every_place[:, :2].max(axis=0) + _CELL_MM - low) / _CELL_MM).astype(int) + 1
    nearest = np.full(shape, -np.inf)
    cell = ((every_place[:, :2] - low) / _CELL_MM).astype(int)
    np.maximum.at(nearest, (cell[:, 0], cell[:, 1]), every_place[:, 2])
    own = np.clip(((place[:, :2] - low) / _CELL_MM).astype(int), 0, np.array(shape) - 1)
    return place[:, 2] > nearest[own[:, 0], own[:, 1]] - _BLOCKED_MM
