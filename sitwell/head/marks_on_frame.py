"""What the photographer's marks on one frame say about the unknowns of a fit."""

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.marks import POINT_NAMES, Mark
from sitwell.head.basis import named_point_basis
from sitwell.head.evidence import Evidence, normal_equations
from sitwell.head.pose import HeadPose, Sighting, project, slider_slopes, upright_axes
from sitwell.head.surface import SIDES

# One sigma in mm of a hand-placed mark where the photographer gives none, and of what lies between
# the point meant and the mesh's own: a lid's edge is a line, an ear's top is a matter of taste.
MARK_SPREAD_MM = {"lid": 0.4, "iris": 0.4, "nose": 0.7, "ear": 1.5, "chin": 1.5}
_ANCHOR_SPREAD_MM = {
    "lid": 0.1,
    "iris": 0.3,
    "nose": 0.4,
    "ear": 1.0,
    "chin": 1.0,
    "eye": 0.3,
    "mouth": 0.3,
}
_RIDGE = ("nose_root", *(f"nose_ridge_{n}" for n in range(1, 6)), "nose_tip")
# The hairline is no shape slider; it is placed once the head stands (hairline.py).
# What only the picture's own points name (seen_points.py, seen_parts.py) stands last.
_PAIRS = ("nose_wing", "eye_inner", "eye_outer", "mouth_corner", "ear_front", "ear_front_top")
_SEEN = ("nose_base", *(f"{stem}_{side}" for stem in _PAIRS for side in SIDES))
_POINTS = (
    *(name for name in POINT_NAMES if name not in ("hairline", "nose_tip")),
    *_RIDGE,
    *_SEEN,
)
_NUDGE = np.array([1e-4, 1e-4, 1e-4, 0.1, 0.1, 1.0])

Array = NDArray[np.float64]


def mark_evidence(
    sighting: Sighting,
    pose: HeadPose,
    focal_px: float,
    shape: Array,
    expression: Array,
    sitters: int,
) -> Evidence:
    """What the marks say; ``sitters`` is how many unknowns of the landmarks' own error to skip.

    A mark on the ridge speaks only across the ridge's line, one on an ear's outer edge only across
    and one on a lid only up and down, any other in both directions.
    """
    basis = named_point_basis(_POINTS)
    points_mm = basis.at(shape, expression)
    by_slider = slider_slopes(basis, points_mm, pose)
    by_shape, by_expression = np.split(by_slider, [len(shape)], axis=1)
    placed_mm, by_pose = _places(points_mm, pose, focal_px, sighting)
    skipped = np.zeros((len(by_shape), sitters))
    slope = np.hstack([by_shape, skipped, by_expression, by_pose]).reshape(len(_POINTS), 2, -1)
    to_mm = _to_mm(pose, focal_px)
    rows, rest, weight = [], [], []
    for mark in sighting.marks:
        if mark.name == "hairline":
            continue
        spot_mm = (np.array([mark.x_px, mark.y_px]) - sighting.centre_px) @ to_mm
        mix, across = _meant(mark, spot_mm, placed_mm)
        rows.append(across @ np.tensordot(mix, slope, 1))
        rest.append(across @ (spot_mm - mix @ placed_mm))
        weight.append(np.full(len(across), _spread_mm(mark, pose, focal_px) ** -2.0))
    if not rows:
        return Evidence(
            matrix=np.zeros((slope.shape[2],) * 2), pull=np.zeros(slope.shape[2]), misfit=0.0
        )
    stacked = np.vstack(rows)
    return normal_equations(stacked, np.concatenate(rest), np.diag(np.concatenate(weight)))


def _to_mm(pose: HeadPose, focal_px: float) -> Array:
    return upright_axes(pose.seen_deg[2]).T * (-pose.place_mm[2] / focal_px)


def _places(
    points_mm: Array, pose: HeadPose, focal_px: float, sighting: Sighting
) -> tuple[Array, Array]:
    """Places (N, 2) of the points in upright picture mm, and their slope (2N, 6) by the pose."""
    to_mm, origin = _to_mm(pose, focal_px), np.zeros(2)
    here = project(points_mm, pose, focal_px, origin)
    columns = []
    for index, nudge in enumerate(_NUDGE):
        step = np.zeros(6)
        step[index] = nudge
        there = project(points_mm, pose.moved(step), focal_px, origin)
        columns.append(((there - here) / nudge @ to_mm).reshape(-1))
    return here @ to_mm, np.stack(columns, axis=1)


def _meant(mark: Mark, spot_mm: Array, placed_mm: Array) -> tuple[Array, Array]:
    """Which mix (N,) of the points a mark means, and the directions (d, 2) it speaks in."""
    mix = np.zeros(len(_POINTS))
    if mark.name != "nose_ridge":
        mix[_POINTS.index(mark.name)] = 1.0
        return mix, np.eye(2)[_ways(mark)]
    line = [_POINTS.index(name) for name in _RIDGE]
    starts, ends = placed_mm[line[:-1]], placed_mm[line[1:]]
    along = ends - starts
    share = np.einsum("nd,nd->n", spot_mm - starts, along) / np.einsum("nd,nd->n", along, along)
    share = np.clip(share, 0.0, 1.0)
    nearest = starts + share[:, None] * along
    best = int(np.argmin(np.linalg.norm(spot_mm - nearest, axis=1)))
    mix[line[best]], mix[line[best + 1]] = 1.0 - share[best], share[best]
    ahead = along[best] / np.linalg.norm(along[best])
    return mix, np.array([[-ahead[1], ahead[0]]])


def _ways(mark: Mark) -> slice:
    """Which of across and up a mark of a point tells."""
    if mark.speaks == "across" or mark.name.startswith("ear_outer"):
        return slice(0, 1)  # an ear's edge runs up and down where it stands out farthest
    return slice(1, 2) if mark.speaks == "up" or mark.name.startswith("lid") else slice(0, 2)


def _spread_mm(mark: Mark, pose: HeadPose, focal_px: float) -> float:
    kind = mark.name.partition("_")[0]
    if mark.spread_px is None:
        own_mm = MARK_SPREAD_MM[kind]
    else:
        own_mm = mark.spread_px * -pose.place_mm[2] / focal_px
    return float(np.hypot(own_mm, _ANCHOR_SPREAD_MM[kind]))
