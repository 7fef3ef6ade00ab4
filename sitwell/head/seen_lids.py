"""Lid edges that were measured in the photograph, as marks for the fit."""

from collections.abc import Mapping

import numpy as np

from sitwell.brief.marks import Mark
from sitwell.face.lids import LidEdges
from sitwell.head.pose import Sighting, rough_pose
from sitwell.head.problem import MEAN_IPD_MM

# On renders the edge that is seen lies this far above the mesh's own point of the lid, in mm:
# weights of 1, the turn toward that eye's side over 30 degrees, its square, and the chin over 15
# degrees. What is left scatters by 0.3 mm, mostly because the mesh's point is not quite the edge
# that shows; the spread is tighter, so that the edge rules; sizes.py states the size's own.
# Beyond the limit the contour of the far eye is lost.
_ABOVE_MM = {
    "upper": np.array([-0.34, -0.37, -0.19, -0.30]),
    "lower": np.array([0.59, 0.02, 0.09, -0.36]),
}
_SPREAD_MM, _FAR_SPREAD_MM = 0.15, 0.25
_FAR_DEG, _FAR_LIMIT_DEG = 20.0, 35.0
_LEAST_SHARPNESS = 3.0


def lid_marks(lids: Mapping[str, LidEdges], sighting: Sighting) -> tuple[Mark, ...]:
    """Marks of the lids seen sharply enough, in full-size pixels as ``lids`` are."""
    pose = rough_pose(sighting)
    turn_deg, chin_deg, tilt_deg = pose.seen_deg
    px_per_mm = _iris_distance_px(sighting) / (MEAN_IPD_MM * np.cos(np.radians(turn_deg)))
    up = np.array([np.sin(np.radians(tilt_deg)), -np.cos(np.radians(tilt_deg))])
    marks = []
    for side, edges in lids.items():
        toward = turn_deg if side == "own_left" else -turn_deg
        if edges.sharpness < _LEAST_SHARPNESS or toward > _FAR_LIMIT_DEG:
            continue
        spread_mm = _FAR_SPREAD_MM if toward > _FAR_DEG else _SPREAD_MM
        terms = np.array([1.0, toward / 30.0, (toward / 30.0) ** 2, chin_deg / 15.0])
        for lid, spot in (("upper", edges.upper_px), ("lower", edges.lower_px)):
            x_px, y_px = spot - up * (terms @ _ABOVE_MM[lid]) * px_per_mm
            marks.append(
                Mark(
                    name=f"lid_{lid}_{side}",
                    x_px=float(x_px),
                    y_px=float(y_px),
                    spread_px=float(spread_mm * px_per_mm),
                )
            )
    return tuple(marks)


def _iris_distance_px(sighting: Sighting) -> float:
    own_right, own_left = sighting.landmarks_px[468], sighting.landmarks_px[473]
    return float(np.linalg.norm(own_left - own_right))
