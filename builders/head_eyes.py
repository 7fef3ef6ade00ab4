"""Seats round eyeballs behind the lids, and makes the lids fit and close over them.

The source's eyeballs are too big, and its lids cut into any eyeball of life size. Here the
eyeball keeps its true size, its centre is put where the lids' edges lie closest to it, and the
lids' skin is eased outwards until it rides on it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from builders.head_mesh import EYE_RADIUS_MM, Crop
from builders.head_paint import LID_RINGS
from builders.head_source import Floats, Ints

POCKET = np.arange(7742, 7798)  # the pocket behind the lids, own left
LID_THICKNESS_MM = 1.0  # from the eyeball to the outer edge of the lid (from memory)
REACH_MM = 14.0  # how far around the lids' edge the skin follows
OVERLAP_MM = 0.6  # how far the upper edge passes the lower one in a full blink


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """The own-left eye in the crop's own vertices: centre (3,), lids' outer and wet edges."""

    centre_mm: Floats
    edge: Ints
    wet_edge: Ints
    pocket: Ints
    lids: Ints


def seat_eye(skin_mm: Floats, crop: Crop, pupil_x_mm: float) -> Seat:
    """Finds the centre on the eye's axis at which the lids' edges fit the eyeball best."""
    index = np.full(crop.kept.max() + 1, -1)
    index[crop.kept] = np.arange(len(crop.kept))
    wet, pocket = index[LID_RINGS], index[POCKET]
    touching = crop.triangles[np.isin(crop.triangles, wet).any(axis=1)]
    edge = np.setdiff1d(touching, np.concatenate([wet, pocket]))
    middle = edge[np.abs(skin_mm[edge, 0] - pupil_x_mm) < 8.0]

    def misfit(z_mm: float) -> float:
        gap = np.linalg.norm(skin_mm[middle] - [pupil_x_mm, 0.0, z_mm], axis=1) - EYE_RADIUS_MM
        return float(np.sum((gap - LID_THICKNESS_MM + 0.3) ** 2))

    best = minimize_scalar(misfit, bounds=(-10.0, 15.0), method="bounded")
    centre = np.array([pupil_x_mm, 0.0, float(best.x)])
    near = np.linalg.norm(skin_mm - centre, axis=1) < EYE_RADIUS_MM + 12.0
    ahead = skin_mm[:, 2] > centre[2] - 3.0
    lids = np.setdiff1d(np.flatnonzero(near & ahead), pocket)
    return Seat(centre_mm=centre, edge=edge, wet_edge=wet, pocket=pocket, lids=lids)


def fit_lids(skin_mm: Floats, seat: Seat) -> Floats:
    """The skin (S, 3) with own-left lids eased onto the eyeball."""
    outward = skin_mm - seat.centre_mm
    distance = np.linalg.norm(outward, axis=1)
    rim = np.concatenate([seat.edge, seat.wet_edge])
    wanted = np.where(
        np.isin(rim, seat.wet_edge), EYE_RADIUS_MM + 0.15, EYE_RADIUS_MM + LID_THICKNESS_MM
    )
    # the inner corner lies beside the eyeball, not on it: leave what is farther than the lid
    gap = wanted - distance[rim]
    gap = np.where(gap > 0, gap, np.maximum(gap, -0.6))
    moved = _spread(skin_mm, skin_mm[rim], outward[rim] / distance[rim, None] * gap[:, None])
    moved[seat.pocket] = skin_mm[seat.pocket]
    moved[rim] = skin_mm[rim] + outward[rim] / distance[rim, None] * gap[:, None]
    return _outside(moved, seat, np.setdiff1d(seat.lids, rim), EYE_RADIUS_MM + 0.6)


def _spread(points: Floats, anchors: Floats, shifts: Floats) -> Floats:
    """``points`` moved with the anchors near them, fading to nothing at REACH_MM."""
    apart = np.linalg.norm(points[:, None] - anchors[None], axis=2)
    nearest = apart.min(axis=1)
    weight = np.exp(-(((apart - nearest[:, None]) / 2.5) ** 2))
    blended = weight @ shifts / weight.sum(axis=1, keepdims=True)
    fade = np.clip(1.0 - nearest / REACH_MM, 0.0, 1.0) ** 2
    return points + blended * fade[:, None]


def _outside(points: Floats, seat: Seat, chosen: Ints, radius_mm: float) -> Floats:
    lifted = points.copy()
    outward = lifted[chosen] - seat.centre_mm
    distance = np.linalg.norm(outward, axis=1, keepdims=True)
    lifted[chosen] = seat.centre_mm + outward * (np.maximum(distance, radius_mm) / distance)
    return lifted
