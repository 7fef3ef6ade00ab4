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

# Of the logarithm of own left over own right opening: how far a sitter's frames err together and
# each by itself, and how unlike eyes are, of most people and of some (a judgement beside
# prior.py's sources, so that eyes that plainly differ are believed).
_ALIKE_OFF, _FRAME_OFF = 0.04, 0.07
_PEOPLE = ((0.75, 0.045), (0.25, 0.16))

Array = NDArray[np.float64]


def with_usual_lids(head: Head, frames: Sequence[FittedFrame]) -> tuple[Head, float]:
    """The head with its eyes as far open as in the median of ``frames``, each side by itself.

    Beside it one sigma of the logarithm of their ratio.
    """
    wanted = np.median([_openings(_posed(frame)) for frame in frames], axis=0)
    seen = float(np.log(wanted[0] / wanted[1]))
    ratio, spread = told_apart(seen, len(frames))
    wanted = np.sqrt(wanted.prod()) * np.exp(np.array([0.5, -0.5]) * ratio)
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
    return _shaped(head, shape), spread


def told_apart(seen: float, frames: int) -> tuple[float, float]:
    """The logarithm of the eyes' ratio to believe where so many frames show it, and its sigma."""
    noise = _ALIKE_OFF**2 + _FRAME_OFF**2 / frames
    weights, means, variances = [], [], []
    for often, sigma in _PEOPLE:
        whole = noise + sigma**2
        weights.append(often * np.exp(-0.5 * seen**2 / whole) / np.sqrt(whole))
        means.append(seen * sigma**2 / whole)
        variances.append(noise * sigma**2 / whole)
    mean = float(np.average(means, weights=weights))
    second = float(np.average(np.add(variances, np.square(means)), weights=weights))
    return mean, float(np.sqrt(second - mean**2))


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
