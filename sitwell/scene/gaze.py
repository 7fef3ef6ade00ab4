"""Where the eyes look: the eyeballs turn to the lens, and the lids go part of the way.

That is why a lowered chin or a raised camera opens the eyes: the gaze goes up in the head and the
upper lid goes with it. Looking 40 degrees down narrows the opening from 9.7 to 6.4 mm (Read 2006,
Optom Vis Sci 83(10)), 0.08 mm a degree; the same slope is taken upward. The upper lid keeps its
place on the iris (from memory), the lower goes as far as gives Read's slope.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head

GAZE_LIMIT_DEG = 40.0
_GAZE_LIMIT = math.radians(GAZE_LIMIT_DEG)
UPPER_LID_SHARE = 1.0
OPENING_SLOPE_MM_PER_DEG = (9.7 - 6.4) / 40.0
LID_REACH_MM = 6.0  # skin this far off the eyeball no longer moves with the lid
LID_BLEND_MM = 2.0  # the lids pass into each other at the corners over this height

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """What moves when one eye looks: head frame, mm; ``lid_share`` is upper > 0, lower < 0."""

    centre_mm: Floats
    rest: Floats
    ball: Ints
    lids: Ints
    lid_share: Floats
    lower_lid_share: float


def find_eyes(head: Head) -> tuple[Eye, Eye]:
    """Both eyes, own left first."""
    left, right = (_find_eye(head, side) for side in SIDES)
    return left, right


def _find_eye(head: Head, side: str) -> Eye:
    vertices = head.vertices_mm.astype(np.float64)
    centre = np.asarray(head.eye_centre_mm[side], dtype=np.float64)
    colours = [Region[f"WHITE_{side.upper()}"], Region[f"IRIS_{side.upper()}"]]
    painted = np.isin(head.region_of_triangle, colours)
    off = vertices - centre
    height_off_ball = np.linalg.norm(off, axis=1) - head.eye_radius_mm
    ball = np.zeros(len(vertices), dtype=bool)
    ball[head.triangles[painted]] = True
    near = ~ball & (height_off_ball < LID_REACH_MM) & (off[:, 2] > 0)
    lids = np.flatnonzero(near).astype(np.int32)
    rest = head.point(f"iris_{side}").astype(np.float64) - centre
    slope = math.degrees(OPENING_SLOPE_MM_PER_DEG / head.eye_radius_mm)
    return Eye(
        centre_mm=centre,
        rest=rest / np.linalg.norm(rest),
        ball=np.flatnonzero(ball).astype(np.int32),
        lids=lids,
        lid_share=_lid_shares(head, side, vertices[lids], off[lids], height_off_ball[lids]),
        lower_lid_share=UPPER_LID_SHARE - slope,
    )


def _lid_shares(
    head: Head, side: str, lids: Floats, off: Floats, height_off_ball: Floats
) -> Floats:
    inner, outer = head.point(f"eye_inner_{side}"), head.point(f"eye_outer_{side}")
    along = (lids[:, 0] - inner[0]) / (outer[0] - inner[0])
    above = lids[:, 1] - (inner[1] + along * (outer[1] - inner[1]))
    side_of_slit = np.clip(above / LID_BLEND_MM, -1.0, 1.0)
    nearness = 1.0 - np.clip(height_off_ball / LID_REACH_MM, 0.0, 1.0)
    frontness = np.clip(off[:, 2] / np.linalg.norm(off, axis=1), 0.0, 1.0) ** 2
    smooth = nearness * nearness * (3.0 - 2.0 * nearness)
    shares = side_of_slit * smooth * frontness
    # the middle of each lid's edge goes the whole way
    return np.where(shares > 0, shares / shares.max(), shares / -shares.min())


def look_at(vertices: Floats, eye: Eye, target_mm: Floats) -> None:
    """Turn the eye in ``vertices`` (V, 3), head frame, changed in place, toward a point (3,).

    The gaze stops at GAZE_LIMIT_DEG to a side and up or down.
    """
    wanted = target_mm - eye.centre_mm
    side = _limited(math.atan2(wanted[0], wanted[2]))
    up = _limited(math.atan2(wanted[1], math.hypot(wanted[0], wanted[2])))
    gaze = np.array([math.sin(side) * math.cos(up), math.sin(up), math.cos(side) * math.cos(up)])
    _turn_ball(vertices, eye.ball, eye.centre_mm, eye.rest, gaze)
    rise = up - math.asin(eye.rest[1])
    _turn_lids(vertices, eye.lids, eye.lid_share, eye.lower_lid_share, eye.centre_mm, rise)


def _limited(angle: float) -> float:
    return min(max(angle, -_GAZE_LIMIT), _GAZE_LIMIT)


@kernel
def _turn_ball(vertices: Floats, ball: Ints, centre: Floats, start: Floats, end: Floats) -> None:
    """Turn about the axis across ``start`` and ``end`` (Listing's law from the rest position).

    Rodrigues' formula with the angle's sine and cosine written as products of the two directions.
    """
    cosine = start[0] * end[0] + start[1] * end[1] + start[2] * end[2]
    axis = (
        start[1] * end[2] - start[2] * end[1],
        start[2] * end[0] - start[0] * end[2],
        start[0] * end[1] - start[1] * end[0],
    )
    for i in ball:
        x = vertices[i, 0] - centre[0]
        y = vertices[i, 1] - centre[1]
        z = vertices[i, 2] - centre[2]
        along = (axis[0] * x + axis[1] * y + axis[2] * z) / (1.0 + cosine)
        vertices[i, 0] = centre[0] + cosine * x + axis[1] * z - axis[2] * y + along * axis[0]
        vertices[i, 1] = centre[1] + cosine * y + axis[2] * x - axis[0] * z + along * axis[1]
        vertices[i, 2] = centre[2] + cosine * z + axis[0] * y - axis[1] * x + along * axis[2]


@kernel
def _turn_lids(
    vertices: Floats,
    lids: Ints,
    share: Floats,
    lower_share: float,
    centre: Floats,
    rise: float,
) -> None:
    # about the line through the eyeball's centre along x, so that a lid keeps its height off it
    for n in range(lids.shape[0]):
        i = lids[n]
        angle = rise * (share[n] * UPPER_LID_SHARE if share[n] > 0 else -share[n] * lower_share)
        y, z = vertices[i, 1] - centre[1], vertices[i, 2] - centre[2]
        vertices[i, 1] = centre[1] + math.cos(angle) * y + math.sin(angle) * z
        vertices[i, 2] = centre[2] - math.sin(angle) * y + math.cos(angle) * z
