"""The pose: the skull turns about the neck's pivot, the neck follows, its root stays.

The neck is not a spine: each of its vertices goes a share of the skull's way, 1 where it meets the
skull and 0 at its root, smoothly in between. Good for the usual range (50 degrees of turn); beyond
that the middle of the neck narrows.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.head.regions import Region
from sitwell.head.surface import Head

Floats = NDArray[np.float64]


def follow_weights(head: Head) -> Floats:
    """How far each vertex (V,) follows the skull, 1 = wholly; the neck's root gives 0.

    The neck's weights are the harmonic function between its two ends, so they have no edge.
    """
    in_neck = head.region_of_triangle == Region.NECK
    return _weights(
        np.asarray(head.triangles, dtype=np.int32).tobytes(),
        in_neck.tobytes(),
        len(head.vertices_mm),
    ).copy()


@lru_cache(maxsize=4)
def _weights(triangle_bytes: bytes, neck_bytes: bytes, count: int) -> Floats:
    # heads share one mesh, so the weights need working out once a process
    triangles = np.frombuffer(triangle_bytes, dtype=np.int32).reshape(-1, 3)
    in_neck = np.frombuffer(neck_bytes, dtype=np.bool_)
    weights = np.ones(count)
    skull, neck = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    skull[triangles[~in_neck]] = True
    neck[triangles[in_neck]] = True
    root = neck & ~skull & on_open_edge(triangles, count)
    free = neck & ~skull & ~root
    weights[root] = 0.0
    if root.any() and free.any():
        weights[free] = _harmonic(triangles, weights, free)
    return weights


def on_open_edge(triangles: NDArray[np.int32], count: int) -> NDArray[np.bool_]:
    """Which of ``count`` vertices lie on an edge that only one triangle has."""
    first, second = np.sort(_sides(triangles), axis=1).astype(np.int64).T
    number, times = np.unique(first * count + second, return_counts=True)
    once = number[times == 1]
    on_edge = np.zeros(count, dtype=bool)
    on_edge[once // count] = True
    on_edge[once % count] = True
    return on_edge


def _sides(triangles: NDArray[np.int32]) -> NDArray[np.int32]:
    return triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)


def _harmonic(triangles: NDArray[np.int32], fixed: Floats, free: NDArray[np.bool_]) -> Floats:
    """Each free vertex as the mean of its neighbours: a few hundred unknowns, solved densely."""
    sides = _sides(triangles)
    edges = np.concatenate([sides, sides[:, ::-1]])
    edges = np.unique(edges[free[edges[:, 0]]], axis=0)
    number = np.cumsum(free) - 1
    rows, count = number[edges[:, 0]], int(free.sum())
    laplacian = np.diag(np.bincount(rows, minlength=count).astype(np.float64))
    inner = free[edges[:, 1]]
    np.add.at(laplacian, (rows[inner], number[edges[inner, 1]]), -1.0)
    known = np.bincount(rows[~inner], weights=fixed[edges[~inner, 1]], minlength=count)
    solution = np.linalg.solve(laplacian, known)
    return np.asarray(solution, dtype=np.float64)


@kernel
def move_vertices(
    vertices: Floats,
    follow: Floats,
    pivot: Floats,
    rotation: Floats,
    forward_mm: float,
    moved: Floats,
) -> None:
    """Turn ``vertices`` (V, 3) about ``pivot`` and slide them forward, each by its share.

    Writes ``moved`` (V, 3). A vertex with weight w lies on the straight way between where it was
    and where the skull would take it.
    """
    for i in range(vertices.shape[0]):
        x = vertices[i, 0] - pivot[0]
        y = vertices[i, 1] - pivot[1]
        z = vertices[i, 2] - pivot[2]
        weight = follow[i]
        stay = 1.0 - weight
        for axis in range(3):
            turned = rotation[axis, 0] * x + rotation[axis, 1] * y + rotation[axis, 2] * z
            forward = forward_mm if axis == 2 else 0.0
            moved[i, axis] = stay * vertices[i, axis] + weight * (turned + pivot[axis] + forward)
