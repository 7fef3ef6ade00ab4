"""Where hairline marks, placed or found in the picture, put the hairline of a fitted head."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.marks import Mark
from sitwell.head.pose import HeadPose, Sighting, project, upright_axes
from sitwell.head.surface import Head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
PLACED_SPREAD_MM = 3.0  # of a mark for which the photographer gives none
# Of the mean hairline about sitters' own: as invented heads are drawn, a judgement.
UNMARKED_SPREAD_MM = 13.0
_Marked = tuple[Sighting, HeadPose, Mark]


def marked_hairline_mm(
    head: Head, sightings: Sequence[Sighting], poses: Sequence[HeadPose]
) -> float | None:
    """How far above the mean hairline the marks lie, along the middle of the scalp; None unmarked.

    Marks that a photographer placed count alone where there are any; several give their mean, by
    how sure each is. A mark beyond the skull's ends gives the end.
    """
    counted = _counted(sightings, poses)
    if not counted:
        return None
    steps = [hairline_step_mm(head, *each) for each in counted]
    return float(np.average(steps, weights=[_spread_mm(*each) ** -2.0 for each in counted]))


def hairline_spread_mm(sightings: Sequence[Sighting], poses: Sequence[HeadPose]) -> float:
    """One sigma of where the marks put the hairline: the surest one's, since marks err together.

    Without marks, that of the mean hairline.
    """
    return min(
        (_spread_mm(*each) for each in _counted(sightings, poses)), default=UNMARKED_SPREAD_MM
    )


def _counted(sightings: Sequence[Sighting], poses: Sequence[HeadPose]) -> list[_Marked]:
    """The marks that count: what was found only where nothing was placed."""
    marked = [
        (sighting, pose, mark)
        for sighting, pose in zip(sightings, poses, strict=True)
        for mark in sighting.marks
        if mark.name == "hairline"
    ]
    return [each for each in marked if each[2].speaks == "both"] or marked


def _spread_mm(sighting: Sighting, pose: HeadPose, mark: Mark) -> float:
    if mark.spread_px is None:
        return PLACED_SPREAD_MM
    return float(mark.spread_px * pose.distance_mm / sighting.focal.px)


def hairline_step_mm(head: Head, sighting: Sighting, pose: HeadPose, mark: Mark) -> int:
    """The whole millimetre above the mean hairline that one mark comes nearest to."""
    focal_px = sighting.focal.px_at(pose.distance_mm)
    steps, spots = visible_walk(head, pose, focal_px, sighting.centre_px)
    apart = np.linalg.norm(spots - (mark.x_px, mark.y_px), axis=1)
    return steps[int(np.argmin(apart))]


def visible_walk(
    head: Head, pose: HeadPose, focal_px: float, centre_px: Array
) -> tuple[list[int], Array]:
    """The steps of the skull's middle line in mm above the mean hairline, and where they show.

    Pixels (N, 2); the line ends where the skull curves out of sight.
    """
    walk = load_template().hairline_walk
    steps = sorted(walk)
    anchors = [walk[step] for step in steps]
    places = np.array([w @ head.vertices_mm[head.triangles[t]] for t, w in anchors], dtype=float)
    spots = project(places, pose, focal_px, centre_px)
    height = (spots - spots[0]) @ upright_axes(pose.seen_deg[2])[1]
    last = int(np.argmax(height)) + 1
    return steps[:last], spots[:last]
