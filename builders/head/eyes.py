"""Seats round eyeballs behind the lids, and makes the lids fit and close over them.

The source's eyeballs are too big, and its lids cut into any eyeball of life size. Here the
eyeball keeps its true size, its centre is put where the lids' edges lie closest to it, and the
lids' skin is eased outwards until it rides on it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from builders.head.mesh import EYE_RADIUS_MM, Crop
from builders.head.paint import LID_RINGS, POCKET, pocket_rim
from builders.head.source import Floats, Ints
from sitwell.head.surface import LID_CLEARANCE_MM

WET_EDGE_MM = LID_CLEARANCE_MM + 0.01  # just off the eyeball, beyond rounding
LID_THICKNESS_MM = 1.0  # from the eyeball to the outer edge of the lid (from memory)
REACH_MM = 14.0  # how far around the lids' edge the skin follows
BLINK_SHARE = 0.7  # of the source's blink, before its edges are made to meet
OVERLAP_MM = 0.6  # how far the upper edge passes the lower one in a full blink


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """The own-left eye in the crop's own vertices.

    ``centre_mm`` (3,); the lids' outer ``edge`` and ``wet_edge``; the ``pocket`` behind them and
    its first ring, the ``flesh`` in the corners; all ``lids`` that must stay off the eyeball.
    """

    centre_mm: Floats
    edge: Ints
    wet_edge: Ints
    pocket: Ints
    flesh: Ints
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
    return Seat(
        centre_mm=centre,
        edge=edge,
        wet_edge=wet,
        pocket=pocket,
        flesh=pocket_rim(crop.triangles, index),
        lids=lids,
    )


def fit_lids(skin_mm: Floats, seat: Seat) -> Floats:
    """The skin (S, 3) with own-left lids eased onto the eyeball."""
    outward = skin_mm - seat.centre_mm
    distance = np.linalg.norm(outward, axis=1)
    rim = np.concatenate([seat.edge, seat.wet_edge])
    wanted = np.where(
        np.isin(rim, seat.wet_edge), EYE_RADIUS_MM + WET_EDGE_MM, EYE_RADIUS_MM + LID_THICKNESS_MM
    )
    # the inner corner lies beside the eyeball, not on it: leave what is farther than the lid
    gap = wanted - distance[rim]
    gap = np.where(gap > 0, gap, np.maximum(gap, -0.6))
    moved = _spread(skin_mm, skin_mm[rim], outward[rim] / distance[rim, None] * gap[:, None])
    moved[seat.pocket] = skin_mm[seat.pocket]
    moved[seat.flesh] = _bridged(skin_mm, seat)
    moved[rim] = skin_mm[rim] + outward[rim] / distance[rim, None] * gap[:, None]
    moved = _outside(moved, seat, np.setdiff1d(seat.lids, rim), EYE_RADIUS_MM + 0.6)
    return _outside(moved, seat, rim, EYE_RADIUS_MM + WET_EDGE_MM)


def _bridged(skin_mm: Floats, seat: Seat) -> Floats:
    """The flesh drawn in under the eyeball's surface, so that no gap shows in the corners."""
    apart = np.linalg.norm(skin_mm[seat.flesh][:, None] - skin_mm[seat.wet_edge][None], axis=2)
    outward = skin_mm[seat.wet_edge[apart.argmin(axis=1)]] - seat.centre_mm
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    return seat.centre_mm + outward * (EYE_RADIUS_MM - 0.4)


def closing_blink(skin_mm: Floats, blink_mm: Floats, seat: Seat) -> Floats:
    """The source's own-left blink (S, 3), changed so that the edges meet with OVERLAP_MM.

    The source's was made for a bigger eyeball: its upper lid stops short near the nose and runs
    far past the lower lid elsewhere.
    """
    blink = BLINK_SHARE * blink_mm
    closed = skin_mm + blink
    rim = np.concatenate([seat.edge, seat.wet_edge])
    corners = skin_mm[rim][[np.argmin(skin_mm[rim, 0]), np.argmax(skin_mm[rim, 0])]]
    is_upper = skin_mm[:, 1] > np.interp(skin_mm[:, 0], corners[:, 0], corners[:, 1])
    lower = seat.edge[~is_upper[seat.edge]]
    lower = lower[np.argsort(closed[lower, 0])]
    upper = rim[is_upper[rim]]
    sill = np.interp(closed[upper, 0], closed[lower, 0], closed[lower, 1])
    shift = np.zeros((len(upper), 3))
    shift[:, 1] = sill - OVERLAP_MM - closed[upper, 1]
    followed = _spread(skin_mm, skin_mm[upper], shift) - skin_mm
    blink[is_upper] += followed[is_upper]
    return blink


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
