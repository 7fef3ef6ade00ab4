"""Which points of the head are looked for in a face's picture, and what was found of each.

The net of ``face/features.py`` gives each a place and a covariance of its own; one that hair or a
turn hides has a wide one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.face.crop import Crop

Array = NDArray[np.float64]

SIDES = ("own_left", "own_right")
RIM_POINTS = 17  # round the ear's edge from its top backward, beside its top, outer edge and lobe
_SIDED = (
    "nose_wing", "eye_inner", "eye_outer", "iris", "mouth_corner", "lid_upper", "lid_lower",
    "ear_top", "ear_outer", "ear_lobe", *(f"ear_rim_{n}" for n in range(1, RIM_POINTS + 1)),
    *(f"jaw_{n}" for n in range(1, 9)), *(f"brow_{n}" for n in range(1, 6)),
    *(f"upper_lip_{n}" for n in range(1, 3)), *(f"lower_lip_{n}" for n in range(1, 3)),
    *(f"hairline_{n}" for n in range(1, 4)), "neck",
)  # fmt: skip
NAMES = (
    "nose_root",
    *(f"nose_ridge_{n}" for n in range(1, 6)),
    "nose_tip",
    "nose_base",
    "upper_lip_top",
    "lips_upper_edge",
    "lips_lower_edge",
    "lower_lip_bottom",
    "chin",
    "hairline",
    "crown",
    "head_top",
    *(f"{stem}_{side}" for stem in _SIDED for side in SIDES),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class PointsSeen:
    """Places (P, 2) of ``NAMES`` in crop pixels, and their covariance (P, 2, 2) about them."""

    crop: Crop
    places: Array
    covariance: Array
