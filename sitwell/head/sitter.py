"""Which frames of a sitter shape the head: the good ones, up to a few of them together."""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitwell.base.words import mark, tr
from sitwell.head.fit import Fit, FittedFrame, fit_head
from sitwell.head.habit import with_usual_lids
from sitwell.head.next_frame import NextFrame, next_frame
from sitwell.head.pose import Sighting, rough_pose
from sitwell.head.usable import BLINK, why_left_out

MOST_TOGETHER = 4
_MANY = mark(
    "Of {count} frames, {together} together gave the head; the others were read one by one."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """The fit that gives the head, each frame's own part, and what there is to say about it.

    ``left_out`` holds a reason for each frame that did not shape the head, None for the others.
    """

    fit: Fit
    frames: tuple[FittedFrame, ...]
    left_out: tuple[str | None, ...]
    next_frame: NextFrame | None
    notes: tuple[str, ...] = ()


def fit_sitter(
    sightings: Sequence[Sighting],
    *,
    ipd_mm: float | None = None,
    distances_mm: Sequence[float | None] | None = None,
    sharpness: Sequence[float] | None = None,
) -> Sitter:
    """Fit up to four good frames together, of more the most unlike, and each other by itself.

    Frames that blink, are blurred or don't fit the others don't shape the head. The frames are
    taken for one sitter's: landmarks alone can't tell two faces apart. ``sharpness`` grows with
    each frame's detail at the eyes.
    """
    measured = list(distances_mm or [None] * len(sightings))

    def fitted(indices: Sequence[int]) -> Fit:
        return fit_head(
            [sightings[i] for i in indices],
            ipd_mm=ipd_mm,
            distances_mm=[measured[i] for i in indices],
        )

    everyone = range(len(sightings))
    many = len(sightings) > MOST_TOGETHER
    alone = {i: fitted([i]) for i in everyone} if many else {}
    left_out = why_left_out(
        [sighting.blendshapes for sighting in sightings],
        list(sharpness or [1.0] * len(sightings)),
        [rough_pose(sighting).seen_deg[0] for sighting in sightings],
        [alone[i].strain for i in everyone] if many else None,
    )
    good = [index for index in everyone if left_out[index] is None]
    together = good if len(good) <= MOST_TOGETHER else _most_unlike(good, alone)
    joint = fitted(together)
    shared = dict(zip(together, joint.frames, strict=True))
    frames = [shared.get(i) or (alone.get(i) or fitted([i])).frames[0] for i in everyone]
    usual = [frames[i] for i in good if _looks(sightings[i])] or [frames[i] for i in good]
    head = with_usual_lids(joint.head, usual)
    note = tr(_MANY, count=len(sightings), together=len(together))
    return Sitter(
        fit=dataclasses.replace(joint, head=head),
        frames=tuple(frames),
        left_out=tuple(left_out),
        next_frame=next_frame([frames[i].pose.seen_deg for i in good]),
        notes=(note,) if len(together) < len(good) else (),
    )


def _looks(sighting: Sighting) -> bool:
    shapes = sighting.blendshapes
    return max(shapes.get(f"eyeBlink{side}", 0.0) for side in ("Left", "Right")) <= BLINK


def _most_unlike(good: Sequence[int], alone: dict[int, Fit]) -> list[int]:
    """The most frontal frame, then each time the one farthest in turn and chin from those taken."""
    poses = {i: np.array(alone[i].frames[0].pose.seen_deg[:2]) for i in good}
    taken = [min(good, key=lambda i: float(np.linalg.norm(poses[i])))]
    while len(taken) < MOST_TOGETHER:
        rest = [i for i in good if i not in taken]
        taken.append(
            max(rest, key=lambda i: min(float(np.linalg.norm(poses[i] - poses[j])) for j in taken))
        )
    return sorted(taken)
