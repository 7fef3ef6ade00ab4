"""What each part of a face's picture shows: skin, ear, hair, and what lies over the face."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from sitwell.face.crop import Crop

Shares = NDArray[np.float32]
Colours = NDArray[np.float32]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsSeen:
    """How likely each cell of a crop shows each part: ``shares`` (parts, S, S).

    A cell covers ``crop``'s unit of pixels, and about ``mm_per_cell`` at the face; ``colours``
    (S, S, 3) are its mean in the picture, encoded, 0 to 255.
    """

    crop: Crop
    shares: Shares
    colours: Colours
    mm_per_cell: float

    def share(self, *parts: Part) -> Shares:
        """How likely each cell (S, S) shows one of these parts."""
        return np.asarray(self.shares[list(parts)].sum(axis=0), dtype=np.float32)
