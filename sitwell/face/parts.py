"""What each part of a face's picture shows: skin, ear, hair, and what lies over the face.

A small net of our own, trained on invented pictures only (``builders/build_parts.py``), looks at a
crop that is laid upright on the landmarks. How far it can be trusted: docs/reading.md.
"""

from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sitwell.face.crop import Crop, crop_laid, cropped
from sitwell.face.landmarks import Pixels
from sitwell.face.net import look_twice

Array = NDArray[np.float64]
Shares = NDArray[np.float32]

DATA = Path(__file__).parent / "data" / "parts.onnx"

CROP_PX = 192
MM_PER_PX = 1.6  # about, at the face


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


def crop_on(landmarks_px: Array) -> Crop:
    """The crop on a face with landmarks (478, 2): eyes in its middle, mouth straight below."""
    return crop_laid(landmarks_px, MM_PER_PX, (CROP_PX / 2, CROP_PX / 2))


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
    scores = look_twice(DATA, cropped(rgb, crop, CROP_PX, CROP_PX))
    straight = (scores[0] + scores[1][:, :, ::-1]) / 2.0
    for part, weight in TRAINED_WEIGHT.items():
        straight[part] -= np.log(weight)
    straight -= straight.max(axis=0)
    likely = np.exp(straight)
    return PartsSeen(crop=crop, shares=(likely / likely.sum(axis=0)).astype(np.float32))
