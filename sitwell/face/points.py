"""Where a face's picture shows named points of the head, each with its own spread.

A small net of our own, trained on invented pictures only (``builders/build_points.py``), looks at
a crop from above the hairline to below the chin. How far it can be trusted: docs/reading.md.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sitwell.face.crop import Crop, crop_laid, cropped
from sitwell.face.landmarks import Pixels
from sitwell.face.net import look_twice

Array = NDArray[np.float64]
Maps = NDArray[np.float32]

DATA = Path(__file__).parent / "data" / "points.onnx"

WIDE_PX, HIGH_PX = 160, 320
MM_PER_PX = 0.75  # about, at the face
EYES_AT_PX = (80.0, 152.0)
CELL_PX = 2  # the net's maps are so much coarser than the crop
_SIDED = ("nose_wing", "eye_inner", "eye_outer", "iris", "mouth_corner")
NAMES = (
    "nose_root",
    *(f"nose_ridge_{n}" for n in range(1, 6)),
    "nose_tip",
    "nose_base",
    "upper_lip_top",
    "chin",
    "hairline",
    *(f"{stem}_{side}" for stem in _SIDED for side in ("own_left", "own_right")),
)
# Where each point's mirror image stands among them.
MIRRORED = tuple(
    NAMES.index(
        name.replace("own_left", "own_right")
        if name.endswith("own_left")
        else name.replace("own_right", "own_left")
    )
    for name in NAMES
)
LEAST_SPREAD_PX = 0.3  # of the crop: what a point is never known better than


@dataclass(frozen=True, slots=True, kw_only=True)
class PointsSeen:
    """Places (P, 2) of ``NAMES`` in crop pixels, and their covariance (P, 2, 2) about them."""

    crop: Crop
    places: Array
    covariance: Array


def crop_on(landmarks_px: Array) -> Crop:
    """The crop on a face with landmarks (478, 2)."""
    return crop_laid(landmarks_px, MM_PER_PX, EYES_AT_PX)


def see_points(rgb: Pixels, landmarks_px: Array) -> PointsSeen:
    """Find the points of a face; ``landmarks_px`` (478, 2) are in pixels of ``rgb``.

    The crop and its mirror image are looked at and the mean taken. HeadError if the net can't be
    read.
    """
    crop = crop_on(landmarks_px)
    places, covariance = look(cropped(rgb, crop, WIDE_PX, HIGH_PX))
    return PointsSeen(crop=crop, places=places, covariance=covariance)


def look(picture: Pixels) -> tuple[Array, Array]:
    """Places (P, 2) and covariances (P, 2, 2) in a crop's own picture (H, W, 3)."""
    places, covariance = moments(look_twice(DATA, picture))
    places[1, :, 0] = WIDE_PX - places[1, :, 0]
    covariance[1, :, 0, 1] *= -1.0
    covariance[1, :, 1, 0] *= -1.0
    mirrored = list(MIRRORED)
    apart = places[0] - places[1, mirrored]
    # two looks that disagree know less than either says
    differ = np.einsum("pi,pj->pij", apart, apart) / 4.0
    mean = (places[0] + places[1, mirrored]) / 2.0
    return mean, (covariance[0] + covariance[1, mirrored]) / 2.0 + differ


def moments(maps: Maps) -> tuple[Array, Array]:
    """Mean places (B, P, 2) in crop pixels and covariances (B, P, 2, 2) of maps (B, P, H, W)."""
    high, wide = maps.shape[2:]
    likely = np.exp(maps - maps.max(axis=(2, 3), keepdims=True)).astype(np.float64)
    total = likely.sum(axis=(2, 3))
    x, y = (np.arange(wide) + 0.5) * CELL_PX, (np.arange(high) + 0.5) * CELL_PX
    across, down = likely.sum(axis=2) / total[..., None], likely.sum(axis=3) / total[..., None]
    mean = np.stack([across @ x, down @ y], axis=-1)
    both = (likely @ x) @ y / total - mean[..., 0] * mean[..., 1]
    least = LEAST_SPREAD_PX**2
    xx, yy = across @ x**2 - mean[..., 0] ** 2 + least, down @ y**2 - mean[..., 1] ** 2 + least
    return mean, np.stack([np.stack([xx, both], -1), np.stack([both, yy], -1)], axis=-2)
