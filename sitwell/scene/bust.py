"""A plain covered body under the neck, so that a preview's head does not float. Not measured."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from sitwell.head.surface import Head
from sitwell.scene.posture import on_open_edge

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

AROUND, DOWN = 96, 60
COLLAR_MM = 1.0  # the cloth stands this far off the neck
COLLAR_RISE_MM = 16.0  # and reaches this far above the neck's root
SMOOTHING = 7.0  # steps around; the mesh is cut unevenly at its root


class Ring(NamedTuple):
    """A ring of the body so far below the collar's front, and how square its outline is."""

    drop_mm: float
    half_width_mm: float
    half_depth_mm: float
    square: float


RINGS = (
    Ring(16.0, 118.0, 92.0, 2.0),
    Ring(34.0, 160.0, 100.0, 2.1),
    Ring(60.0, 194.0, 108.0, 2.3),
    Ring(100.0, 212.0, 114.0, 2.5),
    Ring(170.0, 218.0, 120.0, 2.6),
    Ring(300.0, 208.0, 122.0, 2.6),
    Ring(460.0, 192.0, 116.0, 2.5),
    Ring(650.0, 196.0, 118.0, 2.4),
    Ring(1000.0, 172.0, 115.0, 2.3),
    Ring(1560.0, 150.0, 110.0, 2.2),
)


def build_bust(head: Head) -> tuple[Floats, Ints]:
    """Vertices (N, 3) in the studio, mm, and triangles (M, 3) of the covered body."""
    angles = np.linspace(0.0, 2.0 * math.pi, AROUND, endpoint=False)
    collar, middle = _collar(head, angles)
    rings = [collar, *(_ring(angles, collar, middle, ring) for ring in RINGS)]
    smooth = PchipInterpolator(np.arange(len(rings)), np.array(rings), axis=0)
    vertices = smooth(np.linspace(0.0, len(rings) - 1.0, DOWN)).reshape(-1, 3)
    return vertices, _triangles(_grid())


def bust_casters() -> Ints:
    """A quarter as many triangles on the same vertices: fine enough to cast shadows."""
    return _triangles(_grid()[::2, ::2])


def _grid() -> Ints:
    return np.arange(DOWN * AROUND, dtype=np.int32).reshape(DOWN, AROUND)


def _triangles(grid: Ints) -> Ints:
    """Two triangles (M, 3) in each cell of a grid of vertices (rows, around) that is closed."""
    here, below = grid[:-1], grid[1:]
    beside, across = np.roll(here, -1, axis=1), np.roll(below, -1, axis=1)
    corners = [here, below, beside, beside, below, across]
    return np.stack(corners, axis=-1).reshape(-1, 3)


def _collar(head: Head, angles: Floats) -> tuple[Floats, Floats]:
    """The ring (AROUND, 3) that hugs the neck's root, and the root's middle (3,)."""
    edge = on_open_edge(head.triangles, len(head.vertices_mm))
    low = head.vertices_mm[:, 1] < float(head.point("chin")[1])
    root = head.vertices_mm[edge & low].astype(np.float64)
    middle = root.mean(axis=0)
    off = root - middle
    turn = np.arctan2(off[:, 0], off[:, 2])
    order = np.argsort(turn)
    radius = np.interp(angles, turn[order], np.hypot(off[:, 0], off[:, 2])[order], period=math.tau)
    height = np.interp(angles, turn[order], off[order, 1], period=math.tau)
    radius = gaussian_filter1d(radius, SMOOTHING, mode="wrap") + COLLAR_MM
    height = gaussian_filter1d(height, SMOOTHING, mode="wrap")
    place = [radius * np.sin(angles), height + COLLAR_RISE_MM, radius * np.cos(angles)]
    return middle + np.stack(place, axis=1), middle


def _ring(angles: Floats, collar: Floats, middle: Floats, ring: Ring) -> Floats:
    across, ahead = np.sin(angles), np.cos(angles)
    power = 2.0 / ring.square
    x = ring.half_width_mm * np.sign(across) * np.abs(across) ** power
    z = ring.half_depth_mm * np.sign(ahead) * np.abs(ahead) ** power
    # near the neck the cloth keeps the collar's slope from spine to chest, farther down it is level
    slope = math.exp(-ring.drop_mm / 60.0)
    level = float(collar[:, 1].min()) - ring.drop_mm
    height = level + slope * (collar[:, 1] - collar[:, 1].min())
    return np.stack([middle[0] + x, height, middle[2] + z], axis=1)
