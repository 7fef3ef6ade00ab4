"""Bursts: frames taken in one go, which compete with each other.

Two frames belong together when little time lies between them, when they look alike, and when the
camera's counter could have run from one to the other. How little and how alike are our own
choices: no published threshold was found.
"""

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray
from PIL import Image

GAP_S = 2.0
ALIKE = 0.8
# No camera that takes portraits exposes more often than this.
FASTEST_FRAMES_PER_S = 60.0
SIDE = 16
_COUNTER = re.compile(r"^(.*?)(\d{3,5})$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """What is needed to tell bursts apart: name, time on a common clock in seconds, look."""

    name: str
    taken_s: float | None
    look: bytes


def look_of(rgb: NDArray[np.uint8]) -> bytes:
    """A picture's small likeness: 16 x 16 grey levels, one byte each."""
    stride = max(1, min(rgb.shape[:2]) // (8 * SIDE))
    grey = (
        Image.fromarray(np.ascontiguousarray(rgb[::stride, ::stride]))
        .convert("L")
        .resize((SIDE, SIDE), Image.Resampling.BOX)
    )
    return grey.tobytes()


def likeness(first: bytes, second: bytes) -> float:
    """Correlation of two looks, -1 to 1: 1 when they differ in exposure and contrast only."""
    a, b = (np.frombuffer(look, np.uint8).astype(np.float64) for look in (first, second))
    a, b = a - a.mean(), b - b.mean()
    size = math.sqrt(float(a @ a) * float(b @ b))
    if size == 0:
        return 1.0 if not a.any() and not b.any() else 0.0
    return float(a @ b) / size


def find_bursts(
    shots: Iterable[Shot], gap_s: float = GAP_S, alike: float = ALIKE
) -> Iterator[list[Shot]]:
    """Bursts in the order in which they end; ``shots`` come by time, those without one by name.

    Several bursts may be open at once, so a clock that was set back, or a second camera, does
    not tear apart what it interleaves. Memory holds the open bursts only.
    """
    running: list[list[Shot]] = []
    for shot in shots:
        ended = [burst for burst in running if _is_over(burst[-1], shot, gap_s)]
        yield from ended
        running = [burst for burst in running if burst not in ended]
        fitting = [burst for burst in running if _may_follow(burst[-1], shot)]
        best = max(fitting, key=lambda burst: likeness(burst[-1].look, shot.look), default=None)
        if best is not None and likeness(best[-1].look, shot.look) >= alike:
            best.append(shot)
        else:
            running.append([shot])
    yield from running


def _is_over(last: Shot, shot: Shot, gap_s: float) -> bool:
    if last.taken_s is None or shot.taken_s is None:
        # Without a time only neighbours in the listing can be told to belong together.
        return (last.taken_s is None) != (shot.taken_s is None) or not _may_follow(last, shot)
    return not 0 <= shot.taken_s - last.taken_s <= gap_s


def _may_follow(last: Shot, shot: Shot) -> bool:
    """Whether the camera's counter can have run from one name to the other in that time."""
    first, second = _counter(last.name), _counter(shot.name)
    if first is None or second is None or first[0] != second[0]:
        return True
    step = second[1] - first[1]
    if step < 0:
        step += 10 ** first[2] - 1  # after 9999 comes 0001
    between_s = (shot.taken_s or 0.0) - (last.taken_s or 0.0)
    return 0 < step <= 1 + math.ceil(between_s * FASTEST_FRAMES_PER_S)


def _counter(name: str) -> tuple[str, int, int] | None:
    path = PurePath(name)
    found = _COUNTER.match(path.stem)
    if found is None:
        return None
    return f"{path.parent}/{found[1]}", int(found[2]), len(found[2])
