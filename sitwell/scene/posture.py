"""The pose: the skull turns about the neck's pivot, the neck follows, its root stays.

The neck is not a spine: each of its vertices goes a share of the skull's way, 1 where it meets the
skull and 0 at its root, smoothly in between. Good for the usual range (50 degrees of turn); beyond
that the middle of the neck narrows.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import spsolve

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.regions import Region
from sitwell.head.surface import Head
from sitwell.scene.setup import Setup

Floats = NDArray[np.float64]


def pose_head(head: Head, setup: Setup) -> Floats:
    """Vertices (V, 3) in mm of the head in the set-up's pose, eyes as modelled."""
    vertices = head.vertices_mm.astype(np.float64)
    posed = np.empty_like(vertices)
    move_vertices(
        vertices,
        follow_weights(head),
        head.neck_pivot_mm.astype(np.float64),
        rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg),
        setup.chin_forward_mm,
        posed,
    )
    return posed


def follow_weights(head: Head) -> Floats:
    """How far each vertex (V,) follows the skull, 1 = wholly; the neck's root gives 0.

    The neck's weights are the harmonic function between its two ends, so they have no edge.
    """
    vertices, triangles = head.vertices_mm, head.triangles
    weights = np.ones(len(vertices))
    in_neck = head.region_of_triangle == Region.NECK
    skull = np.zeros(len(vertices), dtype=bool)
    skull[triangles[~in_neck]] = True
    neck = np.zeros(len(vertices), dtype=bool)
    neck[triangles[in_neck]] = True
    root = neck & ~skull & on_open_edge(triangles, len(vertices))
    free = neck & ~skull & ~root
    weights[root] = 0.0
    if root.any() and free.any():
        weights[free] = _harmonic(triangles, weights, free)
    return weights


def on_open_edge(triangles: NDArray[np.int32], count: int) -> NDArray[np.bool_]:
    """Which of ``count`` vertices lie on an edge that only one triangle has."""
    edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, times = np.unique(edges, axis=0, return_counts=True)
    on_edge = np.zeros(count, dtype=bool)
    on_edge[unique[times == 1]] = True
    return on_edge


def _harmonic(triangles: NDArray[np.int32], fixed: Floats, free: NDArray[np.bool_]) -> Floats:
    count = len(fixed)
    edges = triangles[:, [[0, 1], [1, 2], [2, 0], [1, 0], [2, 1], [0, 2]]].reshape(-1, 2)
    links = coo_matrix((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    links = links.tocsr()
    laplacian = diags(np.asarray(links.sum(axis=1)).ravel()) - links
    rows = laplacian[free]
    return spsolve(rows[:, free].tocsc(), -(rows[:, ~free] @ fixed[~free]))


@njit(cache=True, nogil=True)
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
