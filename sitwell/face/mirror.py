"""What a mirror makes of a face's landmarks: which of them takes which one's place."""

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr

DATA = Path(__file__).parent / "data" / "mirrored.txt"  # builders/head/mirror_landmarks.py
_SIDES = ("Left", "Right")


@cache
def partners() -> NDArray[np.int64]:
    """The landmark (478,) that a mirror puts in each one's place; HeadError if it can't be read."""
    try:
        return np.array(DATA.read_text(encoding="ascii").split(), dtype=np.int64)
    except (OSError, ValueError) as error:
        raise HeadError(
            tr(
                "The landmark data {file} can't be read ({error}); install sitwell again.",
                file=DATA.name,
                error=error,
            )
        ) from error


def other_side(name: str) -> str:
    """The name of the same expression on the other side of the face."""
    for one, other in (_SIDES, _SIDES[::-1]):
        if name.endswith(one):
            return name.removesuffix(one) + other
    return name
