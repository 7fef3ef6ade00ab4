"""How a sitter usually holds their lids: what a plan should see on the head at rest.

An eye that is narrower in every frame is taken as that eye's, whether bone, lid or habit narrows
it: the head is given the median opening of the frames that don't blink.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.head.fit import FittedFrame
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import SIDES, Head, head_from_values
from sitwell.head.template import load_template

_SLIDERS = ("eye_opening", "eye_opening_uneven")
_ROUNDS, _NUDGE = 2, 0.1
_FARTHEST = 1.5  # slider units, beyond which lids fold over

Array = NDArray[np.float64]


def with_usual_lids(head: Head, frames: Sequence[FittedFrame]) -> Head:
    """The head with its eyes as far open as in the median of ``frames``, each side by itself."""
    wanted = np.median([_openings(_posed(frame)) for frame in frames], axis=0)
    index = [load_template().shape_names.index(name) for name in _SLIDERS]
    shape = head.shape.astype(np.float64)
    for _ in range(_ROUNDS):
        here = _openings(_shaped(head, shape))
        slope = np.empty((2, 2))
        for column, slider in enumerate(index):
            nudged = shape.copy()
            nudged[slider] += _NUDGE
            slope[:, column] = (_openings(_shaped(head, nudged)) - here) / _NUDGE
        shape[index] += np.linalg.solve(slope, wanted - here)
        shape[index] = np.clip(shape[index], -_FARTHEST, _FARTHEST)
    return _shaped(head, shape)


def _openings(head: Head) -> Array:
    sizes = head_sizes(head)
    return np.array([sizes[f"eye_opening_{side}_mm"] for side in SIDES])


def _posed(frame: FittedFrame) -> Head:
    return head_from_values(
        load_template(), frame.shape.astype(np.float32), frame.expression.astype(np.float32)
    )


def _shaped(head: Head, shape: Array) -> Head:
    return head_from_values(
        load_template(), shape.astype(np.float32), head.expression, head.hairline_mm
    )
