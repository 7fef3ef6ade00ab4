"""What each part of a face's picture shows: skin, ear, hair, and what lies over the face.

A small net of our own, trained on invented pictures only (``builders/build_parts.py``), looks at a
crop that is laid upright on the landmarks. How far it can be trusted: docs/reading.md.
"""

import threading
from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr
from sitwell.face.landmarks import Pixels

Array = NDArray[np.float64]
Shares = NDArray[np.float32]

DATA = Path(__file__).parent / "data" / "parts.onnx"

CROP_PX = 192
MM_PER_PX = 1.6  # about, at the face
EYES_TO_MOUTH_MM = 68.0  # of the mean head, which is what gives the crop its size
_EYES_AT = (0.5, 0.5)
_EYE_OWN_LEFT, _EYE_OWN_RIGHT, _MOUTH = (263, 362), (33, 133), (61, 291)


class Part(IntEnum):
    """What a pixel shows."""

    BACKGROUND = 0
    SKIN = 1
    EAR = 2
    HAIR = 3
    BEARD = 4
    HAT = 5
    GLASSES = 6
    MASK = 7
    HAND = 8
    CLOTHES = 9


# How much more the training made of some parts than of others; taken back here, so that a share
# says how likely a part is.
TRAINED_WEIGHT = {Part.EAR: 2.0, Part.GLASSES: 1.5, Part.HAND: 1.5, Part.MASK: 1.5}


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A square of CROP_PX pixels upright on a face: picture = ``origin_px`` + crop @ ``axes_px``.

    ``axes_px`` (2, 2): its rows are what one crop pixel to the right and one down is in the
    picture.
    """

    origin_px: Array
    axes_px: Array

    def scaled(self, scale: float) -> "Crop":
        """The same crop of a picture ``scale`` times as large."""
        return Crop(origin_px=self.origin_px * scale, axes_px=self.axes_px * scale)

    def to_picture(self, points: Array) -> Array:
        """Picture pixels (N, 2) of crop pixels (N, 2)."""
        return np.asarray(self.origin_px + points @ self.axes_px)

    def from_picture(self, points_px: Array) -> Array:
        """Crop pixels (N, 2) of picture pixels (N, 2)."""
        return np.asarray((points_px - self.origin_px) @ np.linalg.inv(self.axes_px))


def crop_on(landmarks_px: Array) -> Crop:
    """The crop on a face with landmarks (478, 2): eyes in its middle, mouth straight below."""
    own_left, own_right, mouth = (
        landmarks_px[list(points)].mean(axis=0)
        for points in (_EYE_OWN_LEFT, _EYE_OWN_RIGHT, _MOUTH)
    )
    eyes, across = (own_left + own_right) / 2, own_left - own_right
    down = mouth - eyes
    wide, high = float(np.linalg.norm(across)), float(np.linalg.norm(down))
    # a turn narrows the eyes' line and a chin up or down the other: the longer one tells the size
    size_px = max(wide, high, 1e-6)
    way = down / max(high, 1e-6) + np.array([-across[1], across[0]]) / max(wide, 1e-6)
    length = float(np.linalg.norm(way))
    way = way / length if length > 1e-6 else np.array([0.0, 1.0])
    step = way * size_px * MM_PER_PX / EYES_TO_MOUTH_MM
    axes = np.array([[step[1], -step[0]], step])
    return Crop(origin_px=eyes - np.array(_EYES_AT) * CROP_PX @ axes, axes_px=axes)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsSeen:
    """How likely each pixel of a crop shows each part: ``shares`` (parts, S, S), S = CROP_PX."""

    crop: Crop
    shares: Shares

    def share(self, *parts: Part) -> Shares:
        """How likely each pixel (S, S) shows one of these parts."""
        return np.asarray(self.shares[list(parts)].sum(axis=0), dtype=np.float32)


def see_parts(rgb: Pixels, landmarks_px: Array) -> PartsSeen:
    """Name the parts of a face; ``landmarks_px`` (478, 2) are in pixels of ``rgb``.

    The crop and its mirror image are looked at and the mean taken. HeadError if the net can't be
    read.
    """
    crop = crop_on(landmarks_px)
    picture = _cropped(rgb, crop)
    both = np.stack([picture, picture[:, ::-1]]).astype(np.float32) / np.float32(255.0)
    with _LOCK:
        scores = _run(both)
    straight = (scores[0] + scores[1][:, :, ::-1]) / 2.0
    for part, weight in TRAINED_WEIGHT.items():
        straight[part] -= np.log(weight)
    straight -= straight.max(axis=0)
    likely = np.exp(straight)
    return PartsSeen(crop=crop, shares=(likely / likely.sum(axis=0)).astype(np.float32))


def _cropped(rgb: Pixels, crop: Crop) -> Pixels:
    """The crop's pixels (S, S, 3); where it leaves the picture, the edge's pixels go on."""
    import cv2

    corners = crop.to_picture(np.array([[0, 0], [0, CROP_PX], [CROP_PX, 0], [CROP_PX, CROP_PX]]))
    height, width = rgb.shape[:2]
    low = np.clip(np.floor(corners.min(axis=0)).astype(int) - 2, 0, (width - 2, height - 2))
    high = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 2, low + 2, (width, height))
    piece = rgb[low[1] : high[1], low[0] : high[0]]
    factor = max(1.0, float(np.linalg.norm(crop.axes_px[0])))
    size = [max(2, round(n / factor)) for n in (piece.shape[1], piece.shape[0])]
    if factor > 1.2:  # shrink by area first, so that nothing is skipped
        shrunk = cv2.resize(np.ascontiguousarray(piece), size, interpolation=cv2.INTER_AREA)
        piece = np.asarray(shrunk, dtype=np.uint8)
    scale = np.array([piece.shape[1], piece.shape[0]]) / (high - low)
    # pixel centres lie at halves here and at whole numbers there
    axes, origin = crop.axes_px * scale, (crop.origin_px - low) * scale
    matrix = np.hstack([axes.T, (origin + 0.5 * axes.sum(axis=0) - 0.5)[:, None]])
    made = cv2.warpAffine(
        np.ascontiguousarray(piece),
        matrix,
        (CROP_PX, CROP_PX),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(made, dtype=np.uint8)


_LOCK = threading.Lock()


def _run(pictures: Shares) -> Shares:
    net = _net()
    net.setInput(np.ascontiguousarray(pictures.transpose(0, 3, 1, 2)))
    return np.asarray(net.forward(), dtype=np.float32)


@cache
def _net() -> Any:
    import cv2

    try:
        return cv2.dnn.readNetFromONNX(str(DATA))
    except cv2.error as error:
        raise HeadError(
            tr("The net {file} can't be read; install sitwell again.", file=DATA.name)
        ) from error
