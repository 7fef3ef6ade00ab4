"""Single rays against a few triangles, where a whole map would be too much."""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@kernel
def first_hit(
    start: Floats, direction: Floats, vertices: Floats, triangles: Ints, chosen: Ints, least: float
) -> float:
    """Distance along a ray to the first of the chosen triangles beyond ``least``, inf if none.

    Möller and Trumbore 1997, both faces.
    """
    nearest = math.inf
    for t in chosen:
        i, j, k = triangles[t]
        e1x, e1y, e1z = (
            vertices[j, 0] - vertices[i, 0],
            vertices[j, 1] - vertices[i, 1],
            vertices[j, 2] - vertices[i, 2],
        )
        e2x, e2y, e2z = (
            vertices[k, 0] - vertices[i, 0],
            vertices[k, 1] - vertices[i, 1],
            vertices[k, 2] - vertices[i, 2],
        )
        px = direction[1] * e2z - direction[2] * e2y
        py = direction[2] * e2x - direction[0] * e2z
        pz = direction[0] * e2y - direction[1] * e2x
        det = e1x * px + e1y * py + e1z * pz
        if abs(det) < 1e-12:
            continue
        sx, sy, sz = (
            start[0] - vertices[i, 0],
            start[1] - vertices[i, 1],
            start[2] - vertices[i, 2],
        )
        a = (sx * px + sy * py + sz * pz) / det
        if a < 0.0 or a > 1.0:
            continue
        qx, qy, qz = sy * e1z - sz * e1y, sz * e1x - sx * e1z, sx * e1y - sy * e1x
        b = (direction[0] * qx + direction[1] * qy + direction[2] * qz) / det
        if b < 0.0 or a + b > 1.0:
            continue
        distance = (e2x * qx + e2y * qy + e2z * qz) / det
        if least < distance < nearest:
            nearest = distance
    return nearest
