"""A surface drawn into a small or large raster: which triangle shows where."""

import numpy as np
from numpy.typing import NDArray

from sitwell.scene.raster import rasterise

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


def draw(
    places: Floats, nearness: Floats, triangles: Ints, height: int, width: int
) -> tuple[Ints, Floats]:
    """The triangle (H, W), -1 for none, and its nearness, of vertices at places (N, 2)."""
    shown, nearest = np.empty((height, width), dtype=np.int32), np.empty((height, width))
    every, covered = np.arange(len(triangles), dtype=np.int32), np.empty(len(triangles), np.int32)
    x, y = np.ascontiguousarray(places.T)
    rasterise(x, y, np.ascontiguousarray(nearness), triangles, every, shown, nearest, covered)
    return shown, nearest
