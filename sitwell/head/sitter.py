"""Which frames of a sitter are fitted together: up to a few jointly, more of them one by one."""

from collections.abc import Sequence
from dataclasses import dataclass

from sitwell.head.fit import Fit, FittedFrame, fit_head
from sitwell.head.pose import Sighting

MOST_TOGETHER = 4
_MANY = "Of {count} frames, {together} together gave the head; the others were read one by one."


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
    """Fit up to four frames together; of more, the three most unlike, and each other by itself.

    The frames are taken for one sitter's: landmarks alone can't tell two faces apart.
    """
    measured = list(distances_mm or [None] * len(sightings))

    def fitted(indices: Sequence[int]) -> Fit:
        return fit_head(
            [sightings[i] for i in indices],
            ipd_mm=ipd_mm,
            distances_mm=[measured[i] for i in indices],
        )

    if len(sightings) <= MOST_TOGETHER:
        fit = fitted(range(len(sightings)))
        return Sitter(fit=fit, frames=fit.frames)
    frames = [fitted([index]).frames[0] for index in range(len(sightings))]
    together = _most_unlike(frames)
    joint = fitted(together)
    for place, index in enumerate(together):
        frames[index] = joint.frames[place]
    note = _MANY.format(count=len(sightings), together=len(together))
    return Sitter(fit=joint, frames=tuple(frames), notes=(note,))


def _most_unlike(frames: Sequence[FittedFrame]) -> list[int]:
    """Three frames: the middle and the ends of the turns."""
    by_turn = sorted(range(len(frames)), key=lambda index: frames[index].pose.seen_deg[0])
    return sorted({by_turn[0], by_turn[len(by_turn) // 2], by_turn[-1]})
