"""The code on the terminal, the passes that it opens, and how often anything may be tried."""

import hmac
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

PASS_S = 12 * 3600.0  # a day's work; our own choice
CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
WINDOW_S = 60.0
MANY_CALLERS = 1000


@dataclass(slots=True)
class Meter:
    """How often something may happen in a minute for each caller."""

    most: int
    seen: dict[str, deque[float]] = field(default_factory=dict)

    def allows(self, who: str, at: float | None = None) -> bool:
        """Count one more, and say whether it is still within the measure."""
        moment = time.monotonic() if at is None else at
        if len(self.seen) > MANY_CALLERS:
            fresh = ((w, t) for w, t in self.seen.items() if t and moment - t[-1] <= WINDOW_S)
            self.seen = dict(fresh)
        times = self.seen.setdefault(who, deque())
        while times and moment - times[0] > WINDOW_S:
            times.popleft()
        if len(times) >= self.most:
            return False
        times.append(moment)
        return True


@dataclass(slots=True)
class Passes:
    """The code for the next device, and the devices that gave one; a code serves once.

    A pass ends ``PASS_S`` after it was given, by the ``clock`` in seconds, and with the server.
    """

    announce: Callable[[str], None]
    clock: Callable[[], float] = time.time
    code: str = ""
    ends: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.code = _new_code()

    def tell(self) -> None:
        """Show the code."""
        self.announce(self.code)

    def admit(self, typed: str) -> str | None:
        """A pass for the right code, and the next code is shown; None for a wrong one."""
        if not hmac.compare_digest(typed.strip().upper().encode(), self.code.encode()):
            return None
        now = self.clock()
        self.ends = {token: end for token, end in self.ends.items() if end > now}
        self.ends[token := secrets.token_urlsafe(24)] = now + PASS_S
        self.code = _new_code()
        self.tell()
        return token

    def hold(self, token: str) -> bool:
        """Whether a device's pass was given here and has not ended."""
        now, sought = self.clock(), token.encode()
        return any(
            hmac.compare_digest(sought, t.encode()) and e > now for t, e in self.ends.items()
        )


def _new_code() -> str:
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(8))
