"""How long the rest of a long job will take, said in words."""

import time
from collections.abc import Callable

from sitwell.base.words import number, tr

# Before this many seconds a guess would jump about: workers are still loading their libraries.
SETTLED_S = 5.0


class Pace:
    """Counts what is done since it was first told, so that what was done before costs no time."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._begun: tuple[float, int] | None = None

    def left_s(self, done: int, count: int) -> float | None:
        """Seconds until ``count`` are done; None while that can't be told."""
        now_s = self._clock()
        if self._begun is None:
            self._begun = now_s, done
        began_s, began_at = self._begun
        made, took_s = done - began_at, now_s - began_s
        if made <= 0 or took_s < SETTLED_S:
            return None
        return (count - done) * took_s / made


def left_words(seconds: float | None) -> str:
    """The time left as one says it: ", about 3 minutes left"; "" where it can't be told."""
    if seconds is None:
        return ""
    if seconds < 90:
        return tr(", about {count} seconds left", count=max(10, 10 * round(seconds / 10)))
    if seconds < 90 * 60:
        return tr(", about {count} minutes left", count=round(seconds / 60))
    return tr(", about {count} hours left", count=number(seconds / 3600, whole=True))
