"""One frame against its plan: what a photographer would fix, in the order of fixing it.

Nothing judges how a person looks: only whether the eyes, the focus, the wish and the light are
as they were meant.
"""

from dataclasses import dataclass, field
from typing import Any

from sitwell.base.words import tr
from sitwell.shoot.drift import BEGINS, Drift, drifts_of
from sitwell.shoot.findings import (
    CHECKS,
    Finding,
    eye_ratios,
    focus_ratio,
    no_face,
    wish_kept,
)
from sitwell.shoot.frame_facts import Expected, Sight


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameReport:
    """What one frame needs, in the order of fixing.

    ``nearly`` is what came close to mattering, and ``unsure`` says what could not be told.
    """

    file: str
    sight: Sight
    findings: tuple[Finding, ...] = ()
    nearly: tuple[Finding, ...] = ()
    drifts: tuple[Drift, ...] = ()
    unsure: tuple[str, ...] = ()
    eye_open_ratio: dict[str, float] = field(default_factory=dict)
    focus_ratio: float | None = None
    wish_kept: float | None = None

    @property
    def serves(self) -> bool:
        """Whether nothing needs fixing."""
        return not self.findings

    def has(self, *names: str) -> bool:
        """Whether any finding of these names is there."""
        return any(finding.name in names for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        return {
            "file": self.file,
            "serves": self.serves,
            "findings": [
                {"name": f.name, "need": round(f.need, 2), "sentence": f.sentence}
                for f in self.findings
            ],
            "moves": {
                d.move: {"is": round(d.value, 2), "wanted": d.target, "need": round(d.need, 2)}
                for d in self.drifts
            },
            "unsure": list(self.unsure),
        }


def check_frame(file: str, sight: Sight, expected: Expected) -> FrameReport:
    """Hold one frame against what was planned, the sitter's own usual, and its burst."""
    found = _findings(sight, expected)
    return FrameReport(
        file=file,
        sight=sight,
        findings=tuple(f for f in found if f.need >= BEGINS),
        nearly=tuple(f for f in found if f.need < BEGINS),
        drifts=drifts_of(sight, expected.planned),
        unsure=_unsure(sight, expected),
        eye_open_ratio=eye_ratios(sight, expected),
        focus_ratio=focus_ratio(sight, expected),
        wish_kept=wish_kept(sight, expected),
    )


def _findings(sight: Sight, expected: Expected) -> list[Finding]:
    if sight.faces == 0:
        return [no_face()]
    return [finding for check in CHECKS if (finding := check(sight, expected)) is not None]


def _unsure(sight: Sight, expected: Expected) -> tuple[str, ...]:
    if not sight.faces:
        return ()
    unsure = []
    if sight.faces > 1 and sight.moves:
        unsure.append(
            tr(
                "There are {count} faces; the largest is taken for the sitter, because people are "
                "not told apart by their faces.",
                count=sight.faces,
            )
        )
    if not eye_ratios(sight, expected):
        unsure.append(
            tr("Blinks are not judged until the sitter's own usual eye opening is known.")
        )
    if focus_ratio(sight, expected) is None:
        unsure.append(tr("Focus is not judged: there is no other frame of this burst to compare."))
    if expected.planned and not sight.measures:
        unsure.append(
            tr("Nose, ears and wish are not judged: there is no head of this sitter yet.")
        )
    return tuple(unsure)
