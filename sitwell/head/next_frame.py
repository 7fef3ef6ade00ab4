"""Which frame of a sitter would tell most next, in words for the photographer."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitwell.base.words import mark, tr

# Turns that together show both ears, both sides of the nose and the face square on. A mark half as
# far from the lens as the sitter is asks for some 26 degrees.
_WORDS = {
    0.0: mark("One straight into the lens, chin level, would help most next."),
    25.0: mark(
        "One turned to the sitter’s own left, chin level, would help most next: the nose at a mark "
        "at camera right, half as far from the lens as the sitter is."
    ),
    -25.0: mark(
        "One turned to the sitter’s own right, chin level, would help most next: the nose at a "
        "mark at camera left, half as far from the lens as the sitter is."
    ),
}
_COVERED_DEG = 12.0
_LEVEL_DEG = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NextFrame:
    """A pose to ask for, seen angles in degrees, and the words."""

    turn_deg: float
    chin_deg: float
    tilt_deg: float
    words: str


def next_frame(poses_deg: Sequence[tuple[float, float, float]]) -> NextFrame | None:
    """The first wanted pose that none of those taken (turn, chin, tilt) is near; None for none.

    Square on comes first, then either side. A frame with the chin far up or down covers less.
    """
    turns = np.array([pose[0] for pose in poses_deg])
    aside = np.maximum(np.abs([pose[1] for pose in poses_deg]) - _LEVEL_DEG, 0.0)
    for turn_deg in _WORDS:
        if not np.any(np.abs(turns - turn_deg) + aside < _COVERED_DEG):
            return _asked(turn_deg)
    return None


def _asked(turn_deg: float) -> NextFrame:
    return NextFrame(turn_deg=turn_deg, chin_deg=0.0, tilt_deg=0.0, words=tr(_WORDS[turn_deg]))
