"""Measures of the ears in the picture."""

import math

from sitwell.head.regions import Region
from sitwell.scene.definitions import SHARE_OF_AREA, SHARE_OF_HEIGHT, Measure, both_sides
from sitwell.scene.outline import stands_out
from sitwell.scene.view import Floats, View

MEASURES = (
    *both_sides("ear_show_{}", SHARE_OF_AREA, "Visible area of the {} ear."),
    *both_sides(
        "ear_out_{}",
        SHARE_OF_HEIGHT,
        "How far the {} ear stands out of the outline of the head without ears.",
    ),
    Measure(
        "ear_sliver",
        "0 to 1",
        "An ear neither in view nor gone: 0 when hidden or well in view, 1 when 3 tenths of what "
        "shows from the front is left.",
    ),
)
WELL_IN_VIEW = 0.6  # share of its frontal area from which an ear no longer reads as a sliver


def ear_measures(
    view: View, frontal_area: tuple[float, float], outline: tuple[Floats, Floats, float, float]
) -> tuple[float, ...]:
    """Values in the order of MEASURES.

    ``frontal_area`` is what each ear shows from the front; ``outline`` the rows of the head's
    outline without ears: left (own right), right (own left), lowest and highest row.
    """
    left_rows, right_rows, low, high = outline
    show = view.area(Region.EAR_OWN_LEFT), view.area(Region.EAR_OWN_RIGHT)
    own_left, own_right = view.anatomy.ear_vertices
    return (
        *show,
        stands_out(view.u, view.v, own_left, 1.0, right_rows, low, high),
        stands_out(view.u, view.v, own_right, -1.0, left_rows, low, high),
        max(
            _sliver(area / frontal) if frontal > 0 else 0.0
            for area, frontal in zip(show, frontal_area, strict=True)
        ),
    )


def _sliver(share: float) -> float:
    return math.sin(math.pi * share / WELL_IN_VIEW) ** 2 if share < WELL_IN_VIEW else 0.0
