"""Draws a hairline on the bald skull, refines the mesh around it, and measures heights above it.

The mean hairline is drawn by eye; it stands about 183 mm above the chin's underside in front
(the physiognomic face height of grown-ups, from memory). Height above it runs along the skin.
"""

from dataclasses import dataclass

import numpy as np

from builders.head.source import Floats, Ints

HUB_MM = np.array([0.0, 10.0, -66.0])  # inside the skull; the face looks along +z from here
# the own-left hairline from the middle to the front of the ear, in the head frame, mm
HAIRLINE_MM = np.array(
    [
        [0.0, 66.0, 4.0],
        [22.0, 66.5, 0.0],
        [38.0, 65.0, -8.0],
        [48.0, 58.0, -20.0],
        [56.0, 46.0, -30.0],
        [61.0, 32.0, -38.0],
        [64.0, 18.0, -46.0],
        [67.0, 4.0, -57.0],
        [69.0, -10.0, -70.0],
        [69.0, -22.0, -82.0],
    ]
)
BAND_MM = (-28.0, 42.0)  # heights between which the mesh is refined
LONG_SIDE_MM = 6.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """Points along the midline over forehead and skull, one a millimetre, the hairline at 0."""

    height_mm: Floats
    ends: Ints
    weights: Floats


def heights(points: Floats, walk_points: Floats, walk_mm: Floats) -> Floats:
    """Heights (N,) in mm of points (N, 3) above the hairline, along the skin; + toward the crown.

    A point as many degrees behind the hairline as a point of the midline is given its height.
    """
    around, behind = _polar(points)
    line_around, line_behind = _polar(HAIRLINE_MM)
    order = np.argsort(line_around)
    edge = np.interp(around, line_around[order], line_behind[order])
    walk_behind = _polar(walk_points)[1]
    return np.interp(behind - edge + line_behind[0], walk_behind, walk_mm)


def midline_walk(vertices_mm: Floats, midline: Ints) -> Walk:
    """One step a millimetre along the vertices ``midline``, ordered from the brows backwards."""
    path = vertices_mm[midline]
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    behind = _polar(path)[1]
    zero = np.interp(_polar(HAIRLINE_MM[:1])[1][0], behind, along)
    steps = np.arange(np.ceil(-zero), np.floor(along[-1] - zero) + 1.0)
    piece = np.clip(np.searchsorted(along, steps + zero, side="right") - 1, 0, len(midline) - 2)
    share = (steps + zero - along[piece]) / (along[piece + 1] - along[piece])
    return Walk(
        height_mm=steps,
        ends=np.stack([midline[piece], midline[piece + 1]], axis=1),
        weights=np.stack([1.0 - share, share], axis=1),
    )


def split_long_sides(
    vertices_mm: Floats, triangles: Ints, chosen: np.ndarray
) -> tuple[Ints, Ints, Ints]:
    """Cuts the sides longer than LONG_SIDE_MM of chosen triangles in half.

    Returns the parents (N, 2) of each new vertex (numbered after the old ones), the new
    triangles, and the old triangle that each came from. A neighbour that shares a cut side is
    cut along with it, so that no crack opens.
    """
    sides = {
        _side(a, b)
        for corners in triangles[chosen].tolist()
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
        if np.linalg.norm(vertices_mm[a] - vertices_mm[b]) > LONG_SIDE_MM
    }
    middle = {side: len(vertices_mm) + k for k, side in enumerate(sorted(sides))}
    cut, origin = [], []
    for number, corners in enumerate(triangles.tolist()):
        pieces = _cut(corners, middle)
        cut += pieces
        origin += [number] * len(pieces)
    return np.array(sorted(sides)).reshape(-1, 2), np.array(cut), np.array(origin)


def round_middles(vertices_mm: Floats, triangles: Ints, parents: Ints) -> Floats:
    """New vertices (N, 3) halfway between their parents, bulged as the surface is there.

    Phong tessellation (Boubekeur and Alexa 2008): halfway, then three quarters of the way to
    the mean of its projections on the parents' tangent planes.
    """
    normals = np.zeros_like(vertices_mm)
    a, b, c = (vertices_mm[triangles[:, k]] for k in range(3))
    for k in range(3):
        np.add.at(normals, triangles[:, k], np.cross(b - a, c - a))
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    half = vertices_mm[parents].mean(axis=1)
    planes = [
        half - np.sum((half - vertices_mm[p]) * normals[p], axis=1, keepdims=True) * normals[p]
        for p in parents.T
    ]
    return 0.25 * half + 0.75 * np.mean(planes, axis=0)


def _cut(corners: list[int], middle: dict[tuple[int, int], int]) -> list[list[int]]:
    halves = [middle.get(_side(corners[k], corners[(k + 1) % 3])) for k in range(3)]
    count = sum(h is not None for h in halves)
    if count == 0:
        return [corners]
    # turn the triangle so that its first side is cut and, of two cut sides, they follow on
    turn = next(
        k
        for k in range(3)
        if halves[k] is not None and (count != 2 or halves[(k + 1) % 3] is not None)
    )
    a, b, c = corners[turn:] + corners[:turn]
    ab, bc, ca = halves[turn:] + halves[:turn]
    if count == 1:
        return [[a, ab, c], [ab, b, c]]
    if count == 2:
        return [[a, ab, c], [ab, bc, c], [ab, b, bc]]
    return [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]


def _polar(points: Floats) -> tuple[Floats, Floats]:
    """Angle around the face's axis (own left 0, up 90) and angle away from it, degrees."""
    x, y, z = (points - HUB_MM).T
    around = np.degrees(np.arctan2(y, np.abs(x)))
    return around, np.degrees(np.arctan2(np.hypot(x, y), z))


def _side(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)
