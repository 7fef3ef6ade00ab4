"""The best frame of a burst, and why, in words; the others in order.

Only the eyes, the focus, the plan and the light are weighed, never how a person looks. What a
person chose always comes first, and what they set aside always last.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sitwell.base.words import joined, mark, ntr, tr
from sitwell.shoot.check import FrameReport
from sitwell.shoot.drift import BEGINS
from sitwell.shoot.read_frame import position_words

_EYES = ("blink", "half-blink")
# What is said of a frame that loses by one of these.
_LINES = {
    "nose-break": mark("the nose reaches an edge"),
    "ear-sliver": mark("the far ear is a sliver"),
    "nostrils": mark("the nostrils show"),
}
_LIGHT = {
    "key-side": mark("the key is on the other side"),
    "ear-background": mark("it is brighter behind an ear"),
    "crop": mark("the crop cuts at an awkward place"),
    "highlights": mark("skin is burnt out"),
    "glare": mark("a light mirrors in the glasses"),
}
# Differences in focus and opening that are worth an order.
_FOCUS_STEP, _EYE_STEP = 0.05, 0.1
# Of the sitter's usual: lids that are lower than this are seen before a fine step of focus.
_NARROW = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Contender:
    """One frame of a burst with a report for each person, from camera left to right.

    ``choice`` is a person's own: above 0 for chosen (more is better), below 0 for set aside.
    """

    file: str
    reports: tuple[FrameReport, ...]
    choice: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """A frame's place in its burst, 1 first, and the reason for it in words.

    ``faces`` are the boxes of the faces in it, as shares of the picture's width and height.
    """

    file: str
    place: int
    put_forward: bool
    reason: str
    by_person: bool
    findings: tuple[str, ...]
    faces: tuple[tuple[float, ...], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        return {
            "file": self.file,
            "place": self.place,
            "put_forward": self.put_forward,
            "reason": self.reason,
            "chosen_by": "person" if self.by_person else "tool",
            "findings": list(self.findings),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedBurst:
    """A burst in order; ``best_for`` names a frame for each person where none serves all."""

    frames: tuple[Ranked, ...]
    best_for: Mapping[str, str]

    @property
    def best(self) -> Ranked | None:
        """The frame that is put forward."""
        return next((frame for frame in self.frames if frame.put_forward), None)

    def as_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        return {
            "frames": [frame.as_dict() for frame in self.frames],
            "best_for": dict(self.best_for),
        }


@dataclass(frozen=True, slots=True)
class _Criterion:
    """One thing weighed: a number where less is better, and the words for better and worse.

    ``names`` are the findings that it counts, where that is all.
    """

    cost: Callable[[Contender], float]
    better: str
    worse: str
    names: tuple[str, ...] = ()


def rank_burst(contenders: Sequence[Contender]) -> RankedBurst:
    """Order a burst; ties keep the order of exposure, in which the frames are given."""
    order = sorted(contenders, key=_costs)
    forward = order[0] if order and _may_go_forward(order[0]) else None
    return RankedBurst(
        frames=tuple(
            Ranked(
                file=frame.file,
                place=place,
                put_forward=frame is forward,
                reason=_reason(frame, order, frame is forward),
                by_person=bool(frame.choice),
                findings=tuple(_finding_words(frame)),
                faces=tuple(tuple(r.sight.box) for r in frame.reports if r.sight.box),
            )
            for place, frame in enumerate(order, start=1)
        ),
        best_for=_best_for_each(order),
    )


def _costs(frame: Contender) -> tuple[float, ...]:
    return (-(frame.choice or 0.0), *(criterion.cost(frame) for criterion in _CRITERIA))


def _may_go_forward(frame: Contender) -> bool:
    """A frame without a face, with closed eyes, or set aside is never put forward unasked."""
    if frame.choice:
        return frame.choice > 0
    return not _count(frame, "no-face", "blink")


def _count(frame: Contender, *names: str) -> float:
    return float(sum(f.name in names for r in frame.reports for f in r.findings))


def _softness(frame: Contender) -> float:
    known = [r.focus_ratio for r in frame.reports if r.focus_ratio is not None]
    return -round(min(known) / _FOCUS_STEP) if known else 0.0


def _strayed(frame: Contender) -> float:
    return float(sum(drift.need >= BEGINS for r in frame.reports for drift in r.drifts))


def _narrowed(frame: Contender) -> float:
    return float(sum(min([1.0, *r.eye_open_ratio.values()]) < _NARROW for r in frame.reports))


def _narrowness(frame: Contender) -> float:
    known = [min(1.0, v) for r in frame.reports for v in r.eye_open_ratio.values()]
    return -round(min(known) / _EYE_STEP) if known else 0.0


def _wish_lost(frame: Contender) -> float:
    known = [r.wish_kept for r in frame.reports if r.wish_kept is not None]
    return round(1.0 - min(1.0, *known, 1.0), 1) if known and _count(frame, "wish") else 0.0


def _counted(names: tuple[str, ...], better: str, worse: str) -> _Criterion:
    return _Criterion(lambda frame: _count(frame, *names), better, worse, names)


_A_LINE, _THE_LIGHT = mark("a planned line is lost"), mark("light or crop is off")
_OPEN, _FULLY_OPEN = mark("all eyes are open"), mark("the eyes are fully open")
_SHARP, _SHARPER = mark("the near eye is sharp"), mark("the near eye is sharper")
# What the more telling words say already.
_SAID_BY = {_OPEN: _FULLY_OPEN, _SHARPER: _SHARP}
# In the order of fixing: what comes first cannot be made good by what comes after.
_CRITERIA: tuple[_Criterion, ...] = (
    _counted(("no-face",), mark("the sitter is in it"), mark("no sitter is in it")),
    _counted(("blink",), _OPEN, mark("eyes are closed")),
    _counted(("half-blink",), _FULLY_OPEN, mark("eyes are half closed")),
    _counted(("focus",), _SHARP, mark("the near eye is soft")),
    _counted(("gaze",), mark("the eyes are on the lens"), mark("the eyes look away")),
    _counted(tuple(_LINES), mark("the planned lines hold"), _A_LINE),
    _Criterion(_wish_lost, mark("it keeps more of the wish"), mark("it keeps less of the wish")),
    _Criterion(_strayed, mark("the pose is nearer the plan"), mark("the pose is off the plan")),
    _counted(tuple(_LIGHT), mark("light and crop hold"), _THE_LIGHT),
    _counted(("expression",), mark("the face is livelier"), mark("the face is at rest")),
    _Criterion(_narrowed, mark("no lids are low"), mark("lids are low")),
    _Criterion(_softness, _SHARPER, mark("the near eye is a little softer")),
    _Criterion(
        _narrowness, mark("the eyes are more open"), mark("the eyes are a little less open")
    ),
)


def _reason(frame: Contender, order: list[Contender], forward: bool) -> str:
    if frame.choice:
        return tr("Chosen by a person.") if frame.choice > 0 else tr("Set aside by a person.")
    if not forward:
        return _why_after(frame, order)
    rivals = [other for other in order if other is not frame and not other.choice]
    if not rivals:
        return tr("The only frame of its burst.")
    won = [c.better for c in _CRITERIA if any(c.cost(frame) < c.cost(r) for r in rivals)]
    won = [words for words in won if _SAID_BY.get(words) not in won]
    if not won:
        return ntr(
            "As good as the other frame of its burst, and the first.",
            "As good as the other {count} of its burst, and the first.",
            len(rivals),
        )
    why = joined([tr(words) for words in won[:3]], ", ")
    return tr("Out of {count}: {why}.", count=len(rivals) + 1, why=why)


def _why_after(frame: Contender, order: list[Contender]) -> str:
    best = order[0]
    if _count(frame, "no-face"):
        return tr("No face was found in it.")
    if best is frame and _count(frame, "blink"):
        return tr("No frame of this burst has everybody's eyes open; choose one if that is meant.")
    if best is frame:
        return tr("Nothing in this burst serves.")
    if best.choice:
        return tr("A person chose another frame of this burst.")
    lost = next((c for c in _CRITERIA if c.cost(frame) > c.cost(best)), None)
    if lost is None:
        return tr("As good as {file}, but later.", file=best.file)
    why, whose = tr(_told(lost.worse, frame)), _whose(frame, lost.names)
    if whose:
        return tr("After {file}: {why} ({who}).", file=best.file, why=why, who=joined(whose, ", "))
    return tr("After {file}: {why}.", file=best.file, why=why)


def _told(lost: str, frame: Contender) -> str:
    """What it lost by, named where the words stand for several findings."""
    names = {_A_LINE: _LINES, _THE_LIGHT: _LIGHT}.get(lost, {})
    return next((words for name, words in names.items() if _count(frame, name)), lost)


def _whose(frame: Contender, names: tuple[str, ...]) -> list[str]:
    """Where those stand in a group who have one of the findings; nobody where all have."""
    have = [r for r in frame.reports if any(f.name in names for f in r.findings)]
    if len(have) == len(frame.reports):
        return []
    return [position_words(r.sight.position) for r in have if r.sight.position]


def _finding_words(frame: Contender) -> list[str]:
    """What there is to fix, with the person named by where they stand."""
    return [
        tr("{who}: {what}", who=position_words(report.sight.position), what=finding.sentence)
        if report.sight.position else finding.sentence
        for report in frame.reports
        for finding in report.findings
    ]  # fmt: skip


def _best_for_each(order: list[Contender]) -> dict[str, str]:
    """The best frame for each person of a group, where no frame has everybody's eyes and focus."""
    spoils = (*_EYES, "focus", "no-face")
    usable = [f for f in order if len(f.reports) > 1 and (f.choice or 0.0) >= 0]
    if not usable or any(_count(f, *spoils) == 0 for f in usable):
        return {}
    people = max(len(f.reports) for f in usable)
    whole = [f for f in usable if len(f.reports) == people]
    best = {}
    for index in range(people):
        alone = [Contender(file=f.file, reports=(f.reports[index],)) for f in whole]
        first = min(alone, key=_costs)
        best[first.reports[0].sight.position] = first.file
    return best
