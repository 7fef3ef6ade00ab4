"""Measures of the nose in the picture.

How bent a nose looks. The picture's mid-face line runs from the nose's root to its base on the
face's middle plane. A straight nose of the same head, seen in the same pose, would show its ridge
off that line by what it stands out; the real ridge shows that and its own lean or bow. A ridge
anywhere between the two still passes for a straight nose seen a little more from the front, so it
counts as straight; only what lies outside counts. That is why turning opposite to the lean makes
it look straight: standing out and leaning cancel. What counts is set against the half of the face
it leans into, because it shows more where the face is narrow: so turning toward the lean makes it
worse. The half's breadth enters as its share of both halves, so on a face seen square-on it leaves
the number alone.
"""

import math

from sitwell.head.regions import Region
from sitwell.scene.anatomy import RIDGE_POINTS
from sitwell.scene.definitions import SHARE_OF_AREA, SHARE_OF_HEIGHT, Measure
from sitwell.scene.outline import extent_at
from sitwell.scene.raster import extremes
from sitwell.scene.shape_measures import brow_line
from sitwell.scene.view import View

MEASURES = (
    Measure("nose_length", "ratio", "Root to lowest visible point of the nose over brow to chin."),
    Measure("nose_width", "ratio", "Visible wing to wing over visible cheekbone to cheekbone."),
    Measure(
        "nose_bend",
        SHARE_OF_HEIGHT,
        "How far the ridge leaves both the mid-face line and the line a straight nose would show, "
        "against the half of the face it leans into.",
    ),
    Measure(
        "nose_lean",
        SHARE_OF_HEIGHT,
        "How far the nose's tip lies from where a straight nose would show it, + own left.",
    ),
    Measure(
        "nose_break_cheek",
        SHARE_OF_HEIGHT,
        "Clearance of the nose's outline from the far cheek's outline, negative past it.",
    ),
    Measure(
        "nose_break_lip",
        SHARE_OF_HEIGHT,
        "Clearance of the nose tip's lower outline above the top of the upper lip.",
    ),
    Measure(
        "nose_break_socket",
        SHARE_OF_HEIGHT,
        "Clearance of the ridge from the far eye's inner corner, negative when it covers it.",
    ),
    Measure("nose_break", SHARE_OF_HEIGHT, "The least of the three clearances."),
    Measure("nostril_show", SHARE_OF_AREA, "Visible area of the nostril openings."),
)
_RIDGE = (*RIDGE_POINTS, "nose_tip")


def nose_measures(view: View, cheeks: tuple[float, float]) -> tuple[float, ...]:
    """Values in the order of MEASURES; ``cheeks`` is u of the cheekbones, own right first."""
    _, _, tip_low, _ = extremes(view.u, view.v, view.anatomy.nose_tip_vertices)
    least, most, _, _ = extremes(view.u, view.v, view.anatomy.nose_outline_vertices)
    bend, lean = _bend(view, cheeks)
    right, left = extent_at(view.u, view.v, view.anatomy.cheek_edges, view.along("nose_tip"))
    cheek = min(left - most, least - right)
    lip = tip_low - view.along("upper_lip_top")
    socket = _socket_clearance(view)
    bottom = min(view.along("nose_base"), tip_low)
    return (
        (view.along("nose_root") - bottom) / (brow_line(view) - view.along("chin")),
        (most - least) / (cheeks[1] - cheeks[0]),
        bend,
        lean,
        cheek,
        lip,
        socket,
        min(cheek, lip, socket),
        view.area(Region.NOSTRIL_OWN_LEFT, Region.NOSTRIL_OWN_RIGHT),
    )


def _socket_clearance(view: View) -> float:
    clearances = []
    for name, side in (("eye_inner_own_left", 1.0), ("eye_inner_own_right", -1.0)):
        least, most = extent_at(view.u, view.v, view.anatomy.ridge_edges, view.along(name))
        ridge = most if side > 0 else -least
        if math.isfinite(ridge):
            clearances.append(side * view.across(name) - ridge)
    return min(clearances, default=1.0)


def _bend(view: View, cheeks: tuple[float, float]) -> tuple[float, float]:
    """Bend (>= 0) and lean (+ own left) of the ridge."""
    straight_u, straight_v = _straight_nose(view)
    root_u, root_v = straight_u[0], straight_v[0]
    slope = (straight_u[-1] - root_u) / (straight_v[-1] - root_v)
    left_half, right_half = cheeks[1] - root_u, root_u - cheeks[0]
    mean_half = 0.5 * (left_half + right_half)
    total = 0.0
    for n, name in enumerate(_RIDGE, start=1):
        shown = view.across(name) - root_u - slope * (view.along(name) - root_v)
        expected = straight_u[n] - root_u - slope * (straight_v[n] - root_v)
        past = shown - min(max(shown, min(expected, 0.0)), max(expected, 0.0))
        total += (past * mean_half / (left_half if past > 0 else right_half)) ** 2
    return math.sqrt(total / len(_RIDGE)), view.across("nose_tip") - straight_u[-2]


def _straight_nose(view: View) -> tuple[list[float], list[float]]:
    """u and v of root, ridge, tip and base once moved onto the head's middle plane."""
    index = view.anatomy.point_index
    points = view.points_mm[[index[name] for name in ("nose_root", *_RIDGE, "nose_base")]]
    off_plane = view.off_middle_plane_mm(points)
    u, v = view.place(points - off_plane[:, None] * view.rotation[:, 0])
    return u.tolist(), v.tolist()
