"""Which frames of a sitter shape the head: the good ones, up to a few of them together."""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitwell.base.words import mark, tr
from sitwell.head.differing_frames import most_unlike
from sitwell.head.fit import Fit, FittedFrame, fit_head
from sitwell.head.next_frame import NextFrame, next_frame
from sitwell.head.pose import Sighting, rough_pose
from sitwell.head.problem import Known
from sitwell.head.same_face import unlike_frames
from sitwell.head.unroll import FacePicture
from sitwell.head.usable import UNLIKE, is_closed, why_left_out
from sitwell.head.usual_lids import with_usual_lids

MOST_TOGETHER = 6
_ENOUGH_TO_COMPARE = 5  # frames, to tell one that shows another face
# What the head rests on is counted twice in a frame that is laid on it: it is less sure than it
# looks, by about so much (benchmarks/accuracy_other_faces.py).
_LAID_WIDER = 1.4
_MANY = mark("Of {count} frames, {together} together gave the head; the others were laid on those.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """The fit that gives the head, each frame's own part, and what there is to say about it.

    ``left_out`` holds a reason for each frame that did not shape the head, None for the others;
    ``unlike`` are the places of frames that may show another person.
    """

    fit: Fit
    frames: tuple[FittedFrame, ...]
    left_out: tuple[str | None, ...]
    next_frame: NextFrame | None
    unlike: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


def fit_sitter(
    sightings: Sequence[Sighting],
    *,
    ipd_mm: float | None = None,
    distances_mm: Sequence[float | None] | None = None,
    sharpness: Sequence[float] | None = None,
    pictures: Sequence[FacePicture | None] = (),
) -> Sitter:
    """Fit up to six good frames together, of more the most unlike, and lay each other on those.

    Frames that blink, are blurred or don't fit the others don't shape the head. The frames are
    taken for one sitter's, and those that look unlike are named. ``sharpness`` grows with
    each frame's detail at the eyes; with ``pictures`` the skin is followed between frames.
    """
    frames = _Frames(sightings, distances_mm, pictures, ipd_mm)
    everyone = range(len(sightings))
    many = len(sightings) >= _ENOUGH_TO_COMPARE
    alone = {i: frames.fitted([i]) for i in everyone} if len(sightings) > 1 else {}
    left_out = why_left_out(
        [sighting.blendshapes for sighting in sightings],
        list(sharpness or [1.0] * len(sightings)),
        [alone[i].strain for i in everyone] if many else None,
    )
    good = [index for index in everyone if left_out[index] is None]
    together = good if len(good) <= MOST_TOGETHER else _most_unlike(good, alone)
    joint = frames.fitted(together)
    fitted = dict(zip(together, joint.frames, strict=True))
    for i in everyone:
        if left_out[i] == UNLIKE:
            fitted[i] = alone[i].frames[0]
        elif i not in together:
            fitted[i] = frames.laid_on(i, together, joint)
    usual = [fitted[i] for i in good if not is_closed(sightings[i].blendshapes)] or [
        fitted[i] for i in good
    ]
    head, eye_ratio_spread = with_usual_lids(joint.head, usual)
    note = tr(_MANY, count=len(sightings), together=len(together))
    return Sitter(
        fit=dataclasses.replace(joint, head=head, eye_ratio_spread=eye_ratio_spread),
        frames=tuple(fitted[i] for i in everyone),
        left_out=tuple(left_out),
        next_frame=next_frame([fitted[i].pose.seen_deg for i in good]),
        unlike=tuple(good[place] for place in unlike_frames([alone[i].known for i in good]))
        if len(good) > 1
        else (),
        notes=(note,) if len(together) < len(good) else (),
    )


@dataclass(frozen=True, slots=True)
class _Frames:
    """All frames of the sitter, and fits of some of them."""

    sightings: Sequence[Sighting]
    distances_mm: Sequence[float | None] | None
    pictures: Sequence[FacePicture | None]
    ipd_mm: float | None

    def fitted(self, indices: Sequence[int], known: Known | None = None) -> Fit:
        """The fit of these frames together."""
        return fit_head(
            [self.sightings[i] for i in indices],
            ipd_mm=self.ipd_mm,
            distances_mm=self.distances_mm and [self.distances_mm[i] for i in indices],
            known=known,
            pictures=[self.pictures[i] for i in indices] if self.pictures else (),
        )

    def laid_on(self, index: int, together: Sequence[int], joint: Fit) -> FittedFrame:
        """One more frame of the head that ``joint`` found, beside the frame nearest in turn."""
        turn_deg = rough_pose(self.sightings[index]).seen_deg[0]
        beside = min(
            range(len(together)),
            key=lambda n: abs(joint.frames[n].pose.seen_deg[0] - turn_deg),
        )
        frame, again = self.fitted([index, together[beside]], joint.known).frames
        # where the frame beside it now stands a little otherwise, both are turned back together
        back = again.pose.rotation.T @ joint.frames[beside].pose.rotation
        pose = dataclasses.replace(frame.pose, rotation=frame.pose.rotation @ back)
        return dataclasses.replace(frame, pose=pose, spread=frame.spread.widened(_LAID_WIDER))


def _most_unlike(good: Sequence[int], alone: dict[int, Fit]) -> list[int]:
    """As many good frames as are fitted together, in their own order."""
    poses_deg = np.array([alone[i].frames[0].pose.seen_deg[:2] for i in good])
    return sorted(good[place] for place in most_unlike(poses_deg, MOST_TOGETHER))
