"""Light around the head in a picture: on what hangs beside it, and on the background behind."""

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.likeness.spreading import spread
from sitwell.scene.background import falls_off
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Singles = NDArray[np.float32]
Window = tuple[float, float, float]  # see ``picture_window``

STEP_PX = 8  # of the picture: it changes slowly, and is found so coarsely


def around_head(shown: Ints, triangles: Ints, by: Floats) -> Singles:
    """What the vertices' light is multiplied ``by`` (N,), spread over all of the picture (H, W).

    ``shown`` (2H, 2W) is the raster of the head's ``triangles``.
    """
    height, width = shown.shape[0] // 2, shown.shape[1] // 2
    grid = shown[:: 2 * STEP_PX, :: 2 * STEP_PX]
    known = grid >= 0
    values = np.where(known, np.log(by)[triangles[grid, 0]], 0.0)
    everywhere = spread(values[..., None].astype(np.float32), known.astype(np.float32), 2.0)
    return np.exp(_from_grid(everywhere[..., 0], width, height))


def behind(view: View, window: Window, width: int, height: int) -> Singles:
    """How the background falls off (H, W) in a view, 1 behind the sitter."""
    left, top, scale = window
    x, y = np.meshgrid(
        left + (np.arange(-(-width // STEP_PX)) + 0.5) * STEP_PX / scale,
        top - (np.arange(-(-height // STEP_PX)) + 0.5) * STEP_PX / scale,
    )
    ways = np.stack([x, y, -np.ones_like(x)], axis=-1) @ view.camera.axes
    lens = view.camera.lens_mm
    far = (-view.setup.background_distance_mm - lens[2]) / np.minimum(ways[..., 2], -1e-3)
    falls = falls_off(view.setup, lens + far[..., None] * ways)
    return _from_grid(falls.astype(np.float32), width, height)


def _from_grid(values: Singles, width: int, height: int) -> Singles:
    """Values (H, W) of every pixel from those of the grid."""
    size = (values.shape[1] * STEP_PX, values.shape[0] * STEP_PX)
    large = cv2.resize(values, size, interpolation=cv2.INTER_LINEAR)
    return np.ascontiguousarray(large[:height, :width])
