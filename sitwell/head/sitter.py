"""Which frames are fitted together: up to a few jointly, and only frames of one face."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitwell.head.fit import Fit, FittedFrame, fit_head
from sitwell.head.pose import Sighting

MOST_TOGETHER = 4
# Frames of one invented face strain a joint fit less than this, times what they strain alone.
_ONE_FACE_STRAIN = 1.35
_SEVERAL = (
    "The frames don't look like one face, so each was read alone and the head is the first "
    "frame's; give the frames of one sitter together."
)
_MANY = "Of {count} frames, {together} together gave the head; the others were read alone."


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """The fit that gives the head, each frame's own part, and what there is to say about it."""

    fit: Fit
    frames: tuple[FittedFrame, ...]
    notes: tuple[str, ...] = ()


def fit_sitter(
    sightings: Sequence[Sighting],
    *,
    ipd_mm: float | None = None,
    distances_mm: Sequence[float | None] | None = None,
) -> Sitter:
    """Fit up to four frames together, more of them one by one beside the three most unlike.

    Frames that strain against each other are taken for several sitters, and read alone.
    """
    measured = list(distances_mm or [None] * len(sightings))

    def fitted(indices: Sequence[int]) -> Fit:
        return fit_head(
            [sightings[i] for i in indices],
            ipd_mm=ipd_mm,
            distances_mm=[measured[i] for i in indices],
        )

    alone = [fitted([index]) for index in range(len(sightings))]
    if len(sightings) == 1:
        return Sitter(fit=alone[0], frames=alone[0].frames)
    together = _most_unlike(alone)
    joint = fitted(together)
    usual = float(np.sqrt(np.mean([alone[index].strain ** 2 for index in together])))
    frames = [fit.frames[0] for fit in alone]
    if joint.strain > _ONE_FACE_STRAIN * usual:
        return Sitter(fit=alone[0], frames=tuple(frames), notes=(_SEVERAL,))
    for place, index in enumerate(together):
        frames[index] = joint.frames[place]
    notes: tuple[str, ...] = ()
    if len(together) < len(sightings):
        notes = (_MANY.format(count=len(sightings), together=len(together)),)
    return Sitter(fit=joint, frames=tuple(frames), notes=notes)


def _most_unlike(alone: Sequence[Fit]) -> list[int]:
    """All frames when they are few; otherwise three: the middle and the ends of their turns."""
    if len(alone) <= MOST_TOGETHER:
        return list(range(len(alone)))
    by_turn = sorted(range(len(alone)), key=lambda i: alone[i].frames[0].pose.seen_deg[0])
    return sorted({by_turn[0], by_turn[len(by_turn) // 2], by_turn[-1]})
