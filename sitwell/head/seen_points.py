"""What the picture itself shows of the nose, the eyes' and the mouth's corners and the hairline.

The net's points (``face/points.py``) become marks only where they are sure, where they lie about
where the landmarks put the face, and where nothing lies over them. How far off they are was
measured on invented pictures of other kinds than the net learned from (docs/reading.md).
"""

from collections.abc import Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.marks import Mark
from sitwell.face.features import MM_PER_PX
from sitwell.face.points import NAMES, PointsSeen
from sitwell.head.pose import Sighting, pose_quick, project, upright_axes
from sitwell.head.seen_parts import PointFound
from sitwell.head.surface import SIDES, build_head

_Way = Literal["across", "up"]
_AXES = ("across", "up")
# Beyond the second a point is not sure enough; none is surer than the first.
LEAST_MM, SURE_MM = 0.5, 2.0
# From so much turn the nose's bridge may stand before the far eye's inner corner, which is then
# seen at the bridge's edge, so far off.
_BRIDGE_DEG, _BRIDGE_OFF_MM = 18.0, 1.5
_FARTHEST_MM = 14.0  # from where the mean head has the point: beyond it something else was seen
# A hairline is seen to within the net's own spread and what lies between where hair seems to begin
# and the mesh's own line; one less sure than the second number is left to a mark.
HAIRLINE_OFF_MM, HAIRLINE_SURE_MM = 2.5, 6.0
_TOLD_MM = 5.0  # points known less surely than this are not told
# What each point is marked as, in which directions, and how sure it has to be. Along the ridge a
# point is only somewhere on a line; its neighbours err with it, so few of them speak.
_RIDGE = ("nose_root", "nose_ridge_2", "nose_ridge_4")
_STEMS = ("nose_tip", "nose_base", "nose_wing", "eye_inner", "eye_outer", "mouth_corner")
_MEANT: Mapping[str, tuple[tuple[str, _Way, float], ...]] = {
    **dict.fromkeys(_RIDGE, (("nose_ridge", "across", SURE_MM),)),
    **{
        name: ((name, "across", SURE_MM), (name, "up", SURE_MM))
        for name in NAMES
        if name.startswith(_STEMS)
    },
    "hairline": (("hairline", "up", HAIRLINE_SURE_MM),),
}
Array = NDArray[np.float64]


def find_points(seen: PointsSeen, sighting: Sighting) -> tuple[Mark, ...]:
    """Marks of what is surely seen; ``seen.crop`` and ``sighting`` are in the same pixels.

    Of a point that lies far from where the landmarks put it, nothing is said.
    """
    pose = pose_quick(build_head(), sighting)
    points = project(_mean_points(), pose, sighting.focal.px, sighting.centre_px)
    expected = dict(zip(_MEANT, points, strict=True))
    places = seen.crop.to_picture(seen.places)
    mm_per_px = -pose.place_mm[2] / sighting.focal.px
    upright = upright_axes(pose.seen_deg[2])
    to_mm = upright @ seen.crop.axes_px.T * mm_per_px
    covariance = to_mm @ seen.covariance @ to_mm.T
    spread_mm = np.sqrt(np.einsum("pii->pi", covariance))
    spread_mm = np.maximum(spread_mm, LEAST_MM)
    line = NAMES.index("hairline")
    spread_mm[line] = np.hypot(spread_mm[line], HAIRLINE_OFF_MM)
    if abs(pose.seen_deg[0]) > _BRIDGE_DEG:
        far = NAMES.index(f"eye_inner_{SIDES[pose.seen_deg[0] < 0.0]}")
        spread_mm[far, 0] = np.hypot(spread_mm[far, 0], _BRIDGE_OFF_MM)
    marks: list[Mark] = []
    for name, meanings in _MEANT.items():
        index = NAMES.index(name)
        off_mm = float(np.linalg.norm(places[index] - expected[name])) * mm_per_px
        if name != "hairline" and off_mm > _FARTHEST_MM:
            continue
        for meant, speaks, sure_mm in meanings:
            own_mm = float(spread_mm[index, _AXES.index(speaks)])
            if own_mm < sure_mm:
                x_px, y_px = (float(value) for value in places[index])
                spread_px = own_mm / mm_per_px
                marks.append(
                    Mark(name=meant, x_px=x_px, y_px=y_px, spread_px=spread_px, speaks=speaks)
                )
    return tuple(marks)


def told_points(seen: PointsSeen) -> tuple[PointFound, ...]:
    """All points known to some millimetres, in the pixels of ``seen.crop``'s picture."""
    places = seen.crop.to_picture(seen.places)
    spread = np.sqrt(np.einsum("pii->p", seen.covariance) / 2.0)
    size = float(np.linalg.norm(seen.crop.axes_px[0]))
    return tuple(
        PointFound(
            name=name, x_px=float(place[0]), y_px=float(place[1]), spread_px=float(own) * size
        )
        for name, place, own in zip(NAMES, places, spread, strict=True)
        if own * MM_PER_PX < _TOLD_MM
    )


def _mean_points() -> Array:
    head = build_head()
    return np.array([head.point(name) for name in _MEANT], dtype=float)
