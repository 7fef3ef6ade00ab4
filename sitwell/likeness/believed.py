"""How far from a frame its picture can still be believed (by eye: docs/likeness.md)."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.likeness.aspect import Aspect
from sitwell.likeness.body import Body
from sitwell.likeness.colours import Colours

Floats = NDArray[np.float64]

# Between the lines of sight. Twenty degrees of turn are 21 to 22 of them, since the neck carries
# the face aside.
SHORT_DEG, LONG_DEG, GLASSES_DEG = 22.0, 13.0, 16.0
ACROSS_DEG = 14.0  # from a turned frame back toward the front, where temple and ear were hidden
TURNED_DEG = 8.0
LONG_SHARE = 0.35  # of the ears and the neck under hair


def believed_deg(
    body: Body, aspects: Sequence[Aspect], colours: Sequence[Colours]
) -> tuple[float, ...]:
    """The limit of each frame, in degrees."""
    beside = body.of_ear | body.of_neck
    limits = []
    for aspect, colour in zip(aspects, colours, strict=True):
        weight = beside * aspect.seen
        share = float(weight @ colour.hair / max(weight.sum(), 1e-9))
        limit = LONG_DEG if share > LONG_SHARE else SHORT_DEG
        limits.append(min(limit, GLASSES_DEG) if "glasses" in aspect.obscured else limit)
    return tuple(limits)


def is_believable(limit_deg: float, away_deg: float, frame: Floats, view: Floats) -> bool:
    """Whether a picture so far off can be believed; frame and view are directions (3,) of sight."""
    was_deg, is_deg = (math.degrees(math.atan2(each[0], each[2])) for each in (frame, view))
    back = abs(was_deg) > TURNED_DEG and is_deg * math.copysign(1.0, was_deg) < abs(was_deg)
    return away_deg <= (min(limit_deg, ACROSS_DEG) if back else limit_deg)
