"""Where the photographer's hairline marks put the hairline of a fitted head."""

from collections.abc import Sequence

import numpy as np

from sitwell.head.pose import HeadPose, Sighting, project
from sitwell.head.surface import Head
from sitwell.head.template import load_template


def marked_hairline_mm(
    head: Head, sightings: Sequence[Sighting], poses: Sequence[HeadPose]
) -> float | None:
    """How far above the mean hairline the marks lie, along the middle of the scalp; None unmarked.

    Several marks give their mean. A mark beyond the skull's ends gives the end.
    """
    walk = load_template().hairline_walk
    steps = sorted(walk)
    anchors = [walk[step] for step in steps]
    places = np.array([w @ head.vertices_mm[head.triangles[t]] for t, w in anchors], dtype=float)
    found = []
    for sighting, pose in zip(sightings, poses, strict=True):
        focal_px = sighting.focal.px_at(pose.distance_mm)
        spots = project(places, pose, focal_px, sighting.centre_px)
        for mark in sighting.marks:
            if mark.name == "hairline":
                apart = np.linalg.norm(spots - (mark.x_px, mark.y_px), axis=1)
                found.append(steps[int(np.argmin(apart))])
    return float(np.mean(found)) if found else None
