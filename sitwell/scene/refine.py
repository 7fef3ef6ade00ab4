"""A finer surface for drawing: every triangle in four, its new corners on the curved surface.

A new corner lies where a cubic edge that leaves both ends at right angles to their normals has its
middle (Vlachos et al. 2001, "Curved PN triangles"), so old corners stay where they are and
outlines lose their straight pieces. Only for pictures: measures are taken on the head's own mesh.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

# Across a crease the averaged normals say nothing of the surface between them.
_CREASE_COSINE, _SMOOTH_COSINE = 0.3, 0.8
_MOST_BULGE = 0.12  # of an edge's length


@dataclass(frozen=True, slots=True, kw_only=True)
class Refinement:
    """From a mesh's V vertices to N finer ones: the old, then one for each edge.

    ``bulge_mm`` (N, 3) is how far each lies off the straight mesh in the neutral pose;
    ``triangles`` (4T, 3) come in fours, those of triangle t from 4t on.
    """

    ends: Ints
    bulge_mm: Floats
    triangles: Ints

    def places(self, vertices: Floats, rotation: Floats) -> Floats:
        """Places (N, 3) for ``vertices`` (V, 3) of a head that turned by ``rotation`` (3, 3)."""
        straight = self.spread(vertices)
        straight[len(vertices) :] += self.bulge_mm @ rotation.T
        return straight

    def spread(self, values: Floats) -> Floats:
        """Values (N, C) of values (V, C) at the vertices; an edge's own is its ends' mean."""
        return np.concatenate([values, 0.5 * (values[self.ends[:, 0]] + values[self.ends[:, 1]])])


def refine(vertices: Floats, triangles: Ints, normals: Floats) -> Refinement:
    """The finer surface of a mesh in its neutral pose, with unit ``normals`` (V, 3)."""
    sides = triangles[:, [[0, 1], [1, 2], [2, 0]]]
    low, high = np.sort(sides.reshape(-1, 2), axis=1).astype(np.int64).T
    keys, edge_of = np.unique(low * len(vertices) + high, return_inverse=True)
    ends = np.stack(np.divmod(keys, len(vertices)), axis=1)
    i, j, k = triangles.T.astype(np.int64)
    ij, jk, ki = (edge_of.reshape(-1, 3) + len(vertices)).T
    fours = np.stack([i, ij, ki, ij, j, jk, ki, jk, k, ij, jk, ki], axis=1)
    return Refinement(
        ends=ends.astype(np.int32),
        bulge_mm=_bulge(vertices[ends], normals[ends]),
        triangles=fours.reshape(-1, 3).astype(np.int32),
    )


def _bulge(ends: Floats, normals: Floats) -> Floats:
    """Middles of the cubic edges less the straight ones, (E, 3)."""
    along = ends[:, 1] - ends[:, 0]
    rise = (along[:, None, :] * normals).sum(axis=2) * (1.0, -1.0)
    bulge = -(rise[:, :, None] * normals).sum(axis=1) / 8.0
    alike = (normals[:, 0] * normals[:, 1]).sum(axis=1)
    share = np.clip((alike - _CREASE_COSINE) / (_SMOOTH_COSINE - _CREASE_COSINE), 0.0, 1.0)
    size = np.linalg.norm(bulge, axis=1)
    most = _MOST_BULGE * np.linalg.norm(along, axis=1)
    return bulge * (share * np.minimum(1.0, most / np.maximum(size, 1e-9)))[:, None]
