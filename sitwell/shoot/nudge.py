"""One nudge at a time, the one that helps most, in words that do not flicker.

A nudge begins at a need of 1 and ends below 0.5; another takes its place only when it helps
clearly more; and the amount in the words changes only when the drift has clearly changed. Noise
smaller than a move's band therefore never changes the words.
"""

from dataclasses import dataclass

from sitwell.sheet.nudges import nudge_words
from sitwell.shoot.check import FrameReport
from sitwell.shoot.drift import BANDS, BEGINS, ENDS, Drift
from sitwell.shoot.findings import Finding

# Two moves' noises add up, each weighted by up to 2: a change of places must beat both.
CLEARLY_MORE = 1.0
# What spoils a frame outright goes before any move, in this order.
_URGENT = {"no-face": 40.0, "blink": 30.0, "half-blink": 30.0, "focus": 20.0, "gaze": 19.0}

_ORDER = (
    "nose-break",
    "ear-sliver",
    "nostrils",
    "key-side",
    "ear-background",
    "crop",
    "highlights",
    "glare",
    "expression",
    "wish",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nudge:
    """What to say now: the move (or the finding) it is about, what is still to do, the words."""

    about: str
    difference: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    about: str
    need: float
    help: float
    difference: float
    sentence: str = ""
    stays: bool = False


class Nudger:
    """Remembers what was said last; one for each sitter before the camera."""

    def __init__(self) -> None:
        self._last: Nudge | None = None

    def next(self, report: FrameReport) -> Nudge | None:
        """The nudge for this frame, or None when all is within its leeway."""
        chosen = self._choose(_candidates(report))
        if chosen is None:
            self._last = None
            return None
        last = self._last
        if last is None or last.about != chosen.about or _clearly_moved(last, chosen):
            last = Nudge(about=chosen.about, difference=chosen.difference, sentence=_words(chosen))
        self._last = last
        return last if last.sentence else None

    def _choose(self, candidates: dict[str, _Candidate]) -> _Candidate | None:
        ready = [c for c in candidates.values() if c.need >= BEGINS]
        best = max(ready, key=lambda c: c.help, default=None)
        held = candidates.get(self._last.about) if self._last else None
        if held is None or held.need < ENDS:
            return best
        return best if best and best.help > held.help + CLEARLY_MORE else held


def _candidates(report: FrameReport) -> dict[str, _Candidate]:
    found = [_from_finding(f) for f in report.findings + report.nearly]
    found += [_from_drift(drift) for drift in report.drifts]
    return {candidate.about: candidate for candidate in found}


def _from_finding(finding: Finding) -> _Candidate:
    """Other findings come when every move is in place, in the order of fixing."""
    later = -10.0 * (1 + _ORDER.index(finding.name)) if finding.name in _ORDER else 0.0
    return _Candidate(
        about=finding.name,
        need=finding.need,
        help=_URGENT.get(finding.name, later),
        difference=0.0,
        sentence=finding.say,
    )


def _from_drift(drift: Drift) -> _Candidate:
    return _Candidate(
        about=drift.move,
        need=drift.need,
        help=drift.need * drift.weight,
        difference=drift.difference,
        stays=drift.stays,
    )


def _clearly_moved(last: Nudge, now: _Candidate) -> bool:
    return abs(now.difference - last.difference) > 2 * BANDS.get(now.about, 1.0)


def _words(candidate: _Candidate) -> str:
    return candidate.sentence or nudge_words(
        candidate.about, candidate.difference, stays=candidate.stays
    )
