"""What a likeness gives: the picture, and how far it can be believed."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Likened:
    """A picture (H, W, 3), sRGB, of a sitter in a set-up, made from their frames.

    ``made_up_share`` is how much of the person's area in it no frame has shown, 0 to 1.
    """

    pixels: NDArray[np.uint8]
    made_up_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOut:
    """A sitter without a background: light (H, W, 3) times their share, and that ``cover`` (H, W).

    ``ground`` (3,) is the light of the background planned behind them.
    """

    light: Floats
    cover: NDArray[np.float32]
    ground: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far a set-up's view is from a sitter's frames: known before any picture is made.

    ``nearest`` counts the likeness's frames, ``from_frame_deg`` is the angle between this view of
    the head and that frame's. Where it is not ``believable`` a picture should be a drawing;
    ``hard_lit`` says that the frame's own light leaves little of the planned one to be laid on.
    """

    nearest: int
    from_frame_deg: float
    believable: bool
    hard_lit: bool


def angle_deg(one: Floats, other: Floats) -> float:
    """Between two unit directions (3,)."""
    return math.degrees(math.acos(min(max(float(one @ other), -1.0), 1.0)))
