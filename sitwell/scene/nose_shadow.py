"""Where the nose's shadow falls on the face, and how far it reaches."""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.base.rotations import camera_axes
from sitwell.head.regions import NOSE
from sitwell.scene.anatomy import Anatomy
from sitwell.scene.raster import rasterise
from sitwell.scene.shadow import DEPTH_OFFSET_MM, Surface, to_map

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

# lengths in face heights, so that a head's size is nothing
PIXEL, SIDE_PX = 0.0028, 192
GAP = 0.0056  # skin nearer behind the nose than this is the crease beside it
STEP, MOST_STEPS = 0.0014, 24  # past the last hidden triangle's middle
LEAST_COSINE = 0.15  # skin that hardly faces the key shows no edge
GOING_ON_COSINE = 0.3  # and where it turns away the shadow runs into its own shade


class NoseShadow:
    """Finds one head's nose shadow for many keys."""

    def __init__(self, anatomy: Anatomy, surface: Surface) -> None:
        self._anatomy = anatomy
        self._vertices = anatomy.vertices_mm / anatomy.face_height_mm
        self._middles = surface.middles_mm / anatomy.face_height_mm
        self._normals = surface.normals
        self._nose = np.flatnonzero(np.isin(anatomy.region, list(NOSE))).astype(np.int32)
        self._x, self._y, self._near = np.empty((3, len(anatomy.vertices_mm)))
        self._shown = np.empty((SIDE_PX, SIDE_PX), dtype=np.int32)
        self._nearest = np.empty((SIDE_PX, SIDE_PX))
        self._covered = np.empty(len(anatomy.triangles), dtype=np.int32)

    def fall(self, key_mm: Floats, tip_mm: Floats, spread: float) -> tuple[float, float]:
        """Way of the shadow in degrees, and how far it reaches from the tip, in face heights.

        Both square on the face, in the head frame; ``spread`` is the tangent of the angle at which
        points stand around the key's middle. A soft edge is counted where the nose hides half of
        the key. 0 degrees is straight down, + to the own left; a shadow that stays on the nose
        itself reaches 0.
        """
        axes = camera_axes(key_mm, tip_mm)
        tip = tip_mm / self._anatomy.face_height_mm
        backward = axes[2]
        length = max(math.hypot(backward[0], backward[1]), 1e-9)
        way = -backward[:2] / length
        to_map(
            self._vertices @ axes.T,
            axes @ tip,
            PIXEL,
            SIDE_PX,
            SIDE_PX,
            self._x,
            self._y,
            self._near,
        )
        rasterise(
            self._x,
            self._y,
            self._near,
            self._anatomy.triangles,
            self._nose,
            self._shown,
            self._nearest,
            self._covered,
        )
        reach = _reach(
            self._anatomy.shadow_catchers,
            self._middles,
            self._normals,
            axes,
            tip,
            way,
            spread,
            self._nearest,
        )
        degrees = math.degrees(math.atan2(way[0], -way[1]))
        return degrees, min(reach, 1.0)


@kernel
def _reach(
    catchers: Ints,
    middles: Floats,
    normals: Floats,
    axes: Floats,
    tip: Floats,
    way: Floats,
    spread: float,
    nearest: Floats,
) -> float:
    """Farthest along ``way`` (2,) of the skin that faces the key but has the nose before it."""
    reach, last = 0.0, -1
    for t in catchers:
        normal = normals[t]
        along = (middles[t, 0] - tip[0]) * way[0] + (middles[t, 1] - tip[1]) * way[1]
        if along <= reach or _dot(normal, axes[2]) < LEAST_COSINE:
            continue
        if _hidden(middles[t] - tip, axes, spread, nearest):
            reach, last = along, t
    if last < 0 or _dot(normals[last], axes[2]) < GOING_ON_COSINE:
        return reach
    # on from there in the triangle's plane
    normal = normals[last]
    rise = -(normal[0] * way[0] + normal[1] * way[1]) / max(normal[2], LEAST_COSINE)
    step = STEP * np.array([way[0], way[1], rise])
    off = middles[last] - tip
    for _ in range(MOST_STEPS):
        off = off + step
        if not _hidden(off, axes, spread, nearest):
            break
        reach += STEP
    return reach


@kernel
def _dot(a: Floats, b: Floats) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@kernel
def _hidden(off: Floats, axes: Floats, spread: float, nearest: Floats) -> bool:
    """Whether the nose hides the key's middle and half of the points around it from a place."""
    x, y, depth = _dot(off, axes[0]), _dot(off, axes[1]), _dot(off, axes[2])
    before = _before(x, y, depth, nearest)
    if before <= 0.0:
        return False
    # toward another point of the key, the nose is met as far aside as it lies before the skin
    aside = spread * before
    around = 0
    for dx, dy in ((aside, 0.0), (-aside, 0.0), (0.0, aside), (0.0, -aside)):
        around += _before(x + dx, y + dy, depth, nearest) > 0.0
    return around >= 2


@kernel
def _before(x: float, y: float, depth: float, nearest: Floats) -> float:
    """How far the nose lies before a place of the map, 0 where it does not."""
    height, width = nearest.shape
    column = math.floor(0.5 * width + x / PIXEL)
    row = math.floor(0.5 * height - y / PIXEL)
    if not (0 <= row < height and 0 <= column < width):
        return 0.0
    before: float = nearest[row, column] - DEPTH_OFFSET_MM - depth
    return before if before > GAP else 0.0
