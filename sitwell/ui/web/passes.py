"""The code on the terminal, the passes that it opens, and how often anything may be tried."""

import hmac
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

PASS_S = 12 * 3600.0  # a day's work; our own choice
# A code that a phone reads from the screen, and the pass for one page that it opens; our choice.
SCANNED_S, PHONE_S = 120.0, 4 * 3600.0
MOST_SCANNED = 20  # codes that wait to be read
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


@dataclass(frozen=True, slots=True, kw_only=True)
class OnePage:
    """The one page that a phone's pass opens, and where all that the page shows comes from."""

    address: str
    parts: tuple[str, ...]

    def covers(self, path: str) -> bool:
        """Whether a request for ``path`` is this page's own."""
        return path == self.address or path.startswith(self.parts)


@dataclass(slots=True)
class Passes:
    """The code for the next device, and the devices that gave one; a code serves once.

    A pass ends ``PASS_S`` after it was given, by the ``clock`` in seconds, and with the server.
    ``network`` is where other devices find the pages.
    """

    announce: Callable[[str], None]
    clock: Callable[[], float] = time.time
    network: str = ""
    code: str = ""
    ends: dict[str, float] = field(default_factory=dict)
    only: dict[str, OnePage] = field(default_factory=dict)  # by token; who is not here sees all
    _scanned: dict[str, tuple[float, OnePage]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.code = _new_code()

    def tell(self) -> None:
        """Show the code."""
        self.announce(self.code)

    def invite(self, page: OnePage) -> str:
        """A code for one page, to be read from the screen; it serves once, for two minutes."""
        now = self.clock()
        waiting = {code: kept for code, kept in self._scanned.items() if kept[0] > now}
        self._scanned = dict(list(waiting.items())[1 - MOST_SCANNED :])
        self._scanned[code := secrets.token_urlsafe(16)] = now + SCANNED_S, page
        return code

    def invited_to(self, code: str) -> OnePage | None:
        """The page that such a code opens; None where it was used or its time is over."""
        sought, now = code.encode(), self.clock()
        for known, (end, page) in self._scanned.items():
            if hmac.compare_digest(sought, known.encode()):
                return page if end > now else None
        return None

    def admit(self, typed: str) -> str | None:
        """A pass for the right code; None for a wrong one.

        Once the terminal's was given the next is shown there; a scanned one opens its page alone.
        """
        if (page := self.invited_to(typed)) is not None:
            del self._scanned[typed]
            return self._pass(PHONE_S, page)
        if not hmac.compare_digest(typed.strip().upper().encode(), self.code.encode()):
            return None
        token = self._pass(PASS_S)
        self.code = _new_code()
        self.tell()
        return token

    def hold(self, token: str, path: str = "") -> bool:
        """Whether a device's pass was given here, has not ended and opens what ``path`` names."""
        now, sought = self.clock(), token.encode()
        held = any(
            hmac.compare_digest(sought, t.encode()) and e > now for t, e in self.ends.items()
        )
        return held and (token not in self.only or self.only[token].covers(path))

    def _pass(self, for_s: float, only: OnePage | None = None) -> str:
        now = self.clock()
        self.ends = {token: end for token, end in self.ends.items() if end > now}
        self.only = {token: page for token, page in self.only.items() if token in self.ends}
        token = secrets.token_urlsafe(24)
        if only is not None:  # before the pass holds at all
            self.only[token] = only
        self.ends[token] = now + for_s
        return token


def _new_code() -> str:
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(8))
