"""One look of a small net of our own at a face: parts, named points and what is in the way.

The net was trained on invented pictures only (``builders/learned/build_face_net.py``); it looks at
a crop laid upright on the landmarks, and at its mirror image. How far it can be trusted:
docs/reading.md.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sitwell.face.crop import Crop, crop_laid, cropped
from sitwell.face.landmarks import Pixels
from sitwell.face.net import look_twice
from sitwell.face.parts import Colours, Part, PartsSeen
from sitwell.face.points import MIRRORED, PointsSeen

Array = NDArray[np.float64]

DATA = Path(__file__).parent / "data" / "face.onnx"

CROP_PX, CELL_PX = 256, 2
MM_PER_PX = 1.2  # about, at the face
# How much more the training made of some parts than of others; taken back here, so that a share
# says how likely a part is.
TRAINED_WEIGHT = {Part.EAR: 2.0, Part.GLASSES: 2.0, Part.HAND: 1.5, Part.MASK: 1.5, Part.HAT: 1.5}
# What is judged of the whole picture; the last two are whether an ear lies bare.
JUDGED = (
    "glasses", "dark-glasses", "hat", "beard", "mask", "hand", "hair-over-brows",
    "ear-own-left", "ear-own-right",
)  # fmt: skip
_JUDGED_MIRRORED = (*range(7), 8, 7)
LEAST_SPREAD_PX = 0.3  # of the crop: what a point is never known better than


@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """What one look shows; ``judged`` gives how likely each of ``JUDGED`` is, 0 to 1."""

    parts: PartsSeen
    points: PointsSeen
    judged: Mapping[str, float]


def crop_on(landmarks_px: Array) -> Crop:
    """The crop on a face with landmarks (478, 2): eyes in its middle, mouth straight below."""
    return crop_laid(landmarks_px, MM_PER_PX, (CROP_PX / 2, CROP_PX / 2))


def see_features(rgb: Pixels, landmarks_px: Array, scale: float = 1.0) -> Features:
    """Look at a face; ``landmarks_px`` (478, 2) are in pixels ``scale`` times as fine as ``rgb``'s.

    The crop and its mirror image are looked at and the mean taken. HeadError if the net can't be
    read.
    """
    crop = crop_on(landmarks_px / scale)
    picture = cropped(rgb, crop, CROP_PX, CROP_PX)
    return read_crop(picture, crop.scaled(scale))


def read_crop(picture: Pixels, crop: Crop) -> Features:
    """Look at a crop's own picture (CROP_PX, CROP_PX, 3)."""
    scores, told, judged = look_twice(DATA, picture)
    straight = (scores[0] + scores[1][:, :, ::-1]) / 2.0
    for part, weight in TRAINED_WEIGHT.items():
        straight[part] -= np.log(weight)
    straight -= straight.max(axis=0)
    likely = np.exp(straight)
    places, covariance = _both(told.astype(np.float64))
    odds = (judged[0] + judged[1][list(_JUDGED_MIRRORED)]) / 2.0
    return Features(
        parts=PartsSeen(
            crop=Crop(origin_px=crop.origin_px, axes_px=crop.axes_px * CELL_PX),
            shares=(likely / likely.sum(axis=0)).astype(np.float32),
            colours=_cells_of(picture),
            mm_per_cell=MM_PER_PX * CELL_PX,
        ),
        points=PointsSeen(crop=crop, places=places, covariance=covariance),
        judged={
            name: float(1.0 / (1.0 + np.exp(-value)))
            for name, value in zip(JUDGED, odds, strict=True)
        },
    )


def _cells_of(picture: Pixels) -> Colours:
    """The mean colour (S, S, 3) of each cell."""
    cells = CROP_PX // CELL_PX
    split = picture.reshape(cells, CELL_PX, cells, CELL_PX, 3)
    return np.asarray(split.mean(axis=(1, 3)), dtype=np.float32)


def _both(told: Array) -> tuple[Array, Array]:
    """Places (P, 2) and covariances (P, 2, 2) by the looks (2, P, 5) at a crop and its mirror.

    A look gives x, y, the logarithms of both spreads, and how they go together (-1 to 1).
    """
    places = told[..., :2].copy()
    places[1, :, 0] = CROP_PX - places[1, :, 0]
    spread = np.hypot(np.exp(told[..., 2:4]), LEAST_SPREAD_PX)
    covariance = np.zeros((*told.shape[:2], 2, 2))
    covariance[..., 0, 0], covariance[..., 1, 1] = spread[..., 0] ** 2, spread[..., 1] ** 2
    both = told[..., 4] * spread[..., 0] * spread[..., 1]
    both[1] *= -1.0
    covariance[..., 0, 1] = covariance[..., 1, 0] = both
    mirrored = list(MIRRORED)
    apart = places[0] - places[1, mirrored]
    # two looks that disagree know less than either says
    differ = np.einsum("pi,pj->pij", apart, apart) / 4.0
    mean = (places[0] + places[1, mirrored]) / 2.0
    return mean, (covariance[0] + covariance[1, mirrored]) / 2.0 + differ
