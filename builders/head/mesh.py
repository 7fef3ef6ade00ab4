"""Crops the head out of the source body and gives it round eyeballs.

Everything is mirrored exactly: the triangles of the sitter's own right are the mirror images of
those of the own left, so that no measure can prefer a side.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builders.head.source import Floats, Ints, Source

MM_PER_DM = 100.0
BOTTOM_DM = 5.62  # the neck's root; below it the source is torso
SHOULDER_DM = (0.78, 6.3)  # skin wider than the first and lower than the second is shoulder
BODY_VERTICES = 13380  # the skin comes first in the source; helpers follow
EYE_RADIUS_MM = 12.0  # a grown eye is about 24 mm across, and hardly varies (from memory)
IRIS_RADIUS_MM = 5.85  # Vakunov & Lagun 2020: 11.7 +- 0.5 mm across
SECTORS = 24
RINGS_DEG = np.array([9.0, 19.0, 29.176, 39.0, 50.0, 63.0, 80.0, 100.0])


@dataclass(slots=True, kw_only=True)
class Crop:
    """Which source vertices are kept, the triangles between them, and who mirrors whom.

    ``kept`` (S,) are source indices of the skin; ``triangles`` (T, 3) count in kept vertices;
    ``uv`` (T, 2) are triangle centres in UV space; ``mirror`` (S,) and ``mirror_triangle`` (T,)
    give each vertex's and triangle's image on the other side.
    """

    kept: Ints
    triangles: Ints
    uv: Floats
    mirror: Ints
    mirror_triangle: Ints


def crop_head(source: Source) -> Crop:
    """The skin of head and neck, triangulated alike on both sides."""
    skin = np.zeros(len(source.vertices_dm), dtype=bool)
    x, y = np.abs(source.vertices_dm[:BODY_VERTICES, 0]), source.vertices_dm[:BODY_VERTICES, 1]
    skin[:BODY_VERTICES] = (y > BOTTOM_DM) & ((x < SHOULDER_DM[0]) | (y > SHOULDER_DM[1]))
    inside = skin[source.quads].all(axis=1)
    quads, quad_uv = source.quads[inside], source.quad_uv[inside]
    left = source.vertices_dm[quads, 0].mean(axis=1) > 1e-6
    if 2 * np.count_nonzero(left) != len(quads):
        raise SystemExit("The source has quads across the midline; they can't be mirrored.")
    kept = np.unique(quads)
    index = np.full(len(skin), -1)
    index[kept] = np.arange(len(kept))
    corners = np.array([[0, 1, 2], [0, 2, 3]])
    own_left = index[quads[left][:, corners].reshape(-1, 3)]
    mirror = index[source.mirror[kept]]
    own_right = mirror[own_left][:, ::-1]
    uv_left = quad_uv[left][:, corners].reshape(-1, 3, 2).mean(axis=1)
    half = len(own_left)
    return Crop(
        kept=kept,
        triangles=np.concatenate([own_left, own_right]),
        uv=np.concatenate([uv_left, uv_left]),
        mirror=mirror,
        mirror_triangle=np.concatenate([np.arange(half) + half, np.arange(half)]),
    )


def eyeball() -> tuple[Floats, Ints, NDArray[np.bool_]]:
    """Unit sphere cap facing +z: vertices, triangles, and which triangles are iris.

    One ring lies exactly on the iris's edge, so the iris keeps its true size.
    """
    ring, sector = np.radians(RINGS_DEG), 2 * np.pi * np.arange(SECTORS) / SECTORS
    outer = np.stack(
        [
            np.outer(np.sin(ring), np.sin(sector)),
            np.outer(np.sin(ring), np.cos(sector)),
            np.outer(np.cos(ring), np.ones(SECTORS)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    vertices = np.vstack([[[0.0, 0.0, 1.0]], outer])
    step = np.roll(np.arange(SECTORS), -1)
    fan = [np.stack([np.zeros(SECTORS, int), 1 + step, 1 + np.arange(SECTORS)], axis=1)]
    for r in range(len(RINGS_DEG) - 1):
        near, far = 1 + r * SECTORS, 1 + (r + 1) * SECTORS
        here = np.arange(SECTORS)
        fan.append(np.stack([near + here, near + step, far + here], axis=1))
        fan.append(np.stack([near + step, far + step, far + here], axis=1))
    triangles = np.concatenate(fan)
    edge = np.cos(np.arcsin(IRIS_RADIUS_MM / EYE_RADIUS_MM)) - 1e-4
    iris = (vertices[triangles, 2] >= edge).all(axis=1)
    return vertices, triangles, iris


def mirrored(vertices: Floats) -> Floats:
    """The same points on the other side of the face."""
    return vertices * np.array([-1.0, 1.0, 1.0])
