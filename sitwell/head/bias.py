"""How the landmarker errs: where its landmarks slide to as the head turns, and how they scatter.

Learned from pictures of invented heads by ``builders/build_landmark_bias.py``. Offsets are in
millimetres at the face, in picture axes turned upright with the head (x camera right, y up).
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError

DATA = Path(__file__).parent / "data" / "landmark_bias.npz"
# The renders went this far; beyond, the offset stays what it was at the edge.
TURN_LIMIT_DEG, CHIN_LIMIT_DEG = 45.0, 20.0

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LandmarkBias:
    """The landmarker's error on the N used landmarks (``basis.USED_LANDMARKS``), in mm.

    ``offset_mm`` (T, N, 2) are the weights of the terms of ``pose_terms``; ``scatter_mm`` (N, 2)
    is each landmark's own scatter (one sigma) beside ``frame_modes_mm`` (F, N, 2), errors shared
    by all landmarks of one frame, and ``sitter_modes_mm`` (S, N, 2), errors that stay the same in
    every frame of a sitter. ``spread_scale`` (3,) makes the spread of turn, chin and tilt honest
    on heads that were kept out of the learning.
    """

    offset_mm: Array
    scatter_mm: Array
    frame_modes_mm: Array
    sitter_modes_mm: Array
    spread_scale: Array

    def at(self, turn_deg: float, chin_deg: float) -> Array:
        """Mean offset (N, 2) in mm of the landmarks at a seen turn and chin."""
        return np.tensordot(pose_terms(turn_deg, chin_deg), self.offset_mm, 1)


def pose_terms(turn_deg: float, chin_deg: float) -> Array:
    """The ten polynomial terms to the third order in turn and chin, each scaled to about 1."""
    t = np.clip(turn_deg, -TURN_LIMIT_DEG, TURN_LIMIT_DEG) / 30.0
    c = np.clip(chin_deg, -CHIN_LIMIT_DEG, CHIN_LIMIT_DEG) / 15.0
    return np.array([1.0, t, c, t * t, t * c, c * c, t**3, t * t * c, t * c * c, c**3])


@cache
def load_bias(path: Path = DATA) -> LandmarkBias:
    """The learned error from the data file (read once a process); HeadError if it can't be."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            arrays = {name: stored[name].astype(np.float64) for name in stored.files}
        return LandmarkBias(**arrays)
    except (OSError, ValueError, KeyError, TypeError, EOFError) as error:
        raise HeadError(
            f"The landmark data {path.name} can't be read ({error}); install sitwell again."
        ) from error
