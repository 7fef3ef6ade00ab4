"""How far from a frame its picture can still be believed (measured: docs/likeness.md)."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.likeness.aspect import Aspect
from sitwell.likeness.body import Body
from sitwell.likeness.colours import Colours

Floats = NDArray[np.float64]

SHORT_DEG, LONG_DEG, GLASSES_DEG = 20.0, 12.0, 15.0
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
