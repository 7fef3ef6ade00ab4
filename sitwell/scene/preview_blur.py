"""The preview's focus: each pixel spread over the disc that a thin lens makes of it.

The lens is focused on the nearer eye. What is gathered at a pixel is what its neighbours spread
there; something farther away does not spread over something sharper in front of it. Background is
one tone, so only what lies before it matters.
"""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from sitwell.base.kernels import kernel
from sitwell.scene.camera import sensor_scale_mm
from sitwell.scene.lens import blur_disc_mm
from sitwell.scene.setup import Setup

LEAST_PX = 0.75  # of the radius: a smaller disc is left as it is
MOST_PX = 16  # a tile's side: no disc reaches farther than the next tile
SAMPLES = 24
FEW_PX = 2.2  # half the samples are enough for so small a disc
BEHIND = 0.999  # of the nearness: about 2 mm at 1.5 m
_POINT_PX = 1.0 / math.sqrt(math.pi)  # the radius of a disc as large as a pixel
# Samples over the unit disc, each for the same area: x, y, and the way from the middle.
_AROUND = np.arange(SAMPLES) * math.pi * (3.0 - math.sqrt(5.0))
_WAYS = np.sqrt((np.arange(SAMPLES) + 0.5) / SAMPLES)
_DISC = np.stack([_WAYS * np.cos(_AROUND), _WAYS * np.sin(_AROUND), _WAYS], axis=1)

Floats = NDArray[np.float32]
Pixels = NDArray[np.uint8]


def blur_radii_px(setup: Setup, focus_mm: float, nearness: Floats, px_per_tangent: float) -> Floats:
    """Radius of each pixel's blur disc, in pixels; ``nearness`` is 1/depth, 0 for background.

    The disc grows in proportion to the change of nearness: |d - s| / d = |1 - s / d|.
    """
    far_mm = blur_disc_mm(setup.focal_mm, setup.f_number, focus_mm, math.inf)
    px_per_mm = px_per_tangent / sensor_scale_mm(setup, focus_mm)
    radii = 0.5 * far_mm * px_per_mm * np.abs(1.0 - focus_mm * nearness)
    return np.where(nearness > 0.0, np.minimum(radii, MOST_PX), 0.0).astype(np.float32)


def spread_blur(picture: Pixels, radii: Floats, nearness: Floats, coded: Pixels) -> None:
    """Blur ``picture`` (H, W, 3) in place by its discs; ``coded`` is linear light to bytes."""
    reach = _reach_by_tile(radii)
    if reach.max() < LEAST_PX:
        return
    linear = np.searchsorted(coded, np.arange(256)).astype(np.float32) / (len(coded) - 1)
    _spread(picture.copy(), linear, radii, nearness, reach, _DISC, coded, picture)


def _reach_by_tile(radii: Floats) -> Floats:
    """How far a disc reaches into each tile, from the tile itself or one beside it."""
    height, width = radii.shape
    padded = np.pad(radii, ((0, -height % MOST_PX), (0, -width % MOST_PX)))
    tiles = padded.reshape(len(padded) // MOST_PX, MOST_PX, -1, MOST_PX).max(axis=(1, 3))
    return np.asarray(maximum_filter(tiles, size=3), dtype=np.float32)


@kernel
def _spread(
    sharp: Pixels,
    linear: Floats,
    radii: Floats,
    nearness: Floats,
    reach: Floats,
    disc: NDArray[np.float64],
    coded: Pixels,
    picture: Pixels,
) -> None:
    height, width, _ = picture.shape
    top = coded.shape[0] - 1
    for row in range(height):
        for column in range(width):
            far = reach[row // MOST_PX, column // MOST_PX]
            if far < LEAST_PX:
                continue
            near = nearness[row, column]
            stride = 2 if far < FEW_PX else 1
            area = math.pi * far * far * stride / SAMPLES
            own = radii[row, column] if near > 0.0 else far
            weight = 1.0 / max(own, _POINT_PX) ** 2
            red = weight * linear[sharp[row, column, 0]]
            green = weight * linear[sharp[row, column, 1]]
            blue = weight * linear[sharp[row, column, 2]]
            for s in range(0, SAMPLES, stride):
                x = math.floor(column + 0.5 + far * disc[s, 0])
                y = math.floor(row + 0.5 + far * disc[s, 1])
                if y < 0 or y >= height or x < 0 or x >= width or (y == row and x == column):
                    continue
                radius = radii[y, x] if nearness[y, x] > 0.0 else far
                if nearness[y, x] < BEHIND * near:
                    radius = min(radius, own)
                cover = min(radius - far * disc[s, 2] + 0.5, 1.0)
                if cover <= 0.0:
                    continue
                # each sample stands for its part of the disc's area
                part = cover * area / max(radius, _POINT_PX) ** 2
                red += part * linear[sharp[y, x, 0]]
                green += part * linear[sharp[y, x, 1]]
                blue += part * linear[sharp[y, x, 2]]
                weight += part
            picture[row, column, 0] = coded[int(red / weight * top + 0.5)]
            picture[row, column, 1] = coded[int(green / weight * top + 0.5)]
            picture[row, column, 2] = coded[int(blue / weight * top + 0.5)]
