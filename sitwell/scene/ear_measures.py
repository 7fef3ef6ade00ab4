"""Measures of the ears in the picture."""

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
        "An ear neither in view nor gone: 0 when gone or well in view, more the more of a "
        "remnant stands beside the face.",
    ),
)
# Design choices, judged on pictures. An ear is gone when it stands out by less than half a
# millimetre on a print whose face is 160 mm high, and is in view from seventeen twentieths of what
# it shows from the front.
GONE_OUT, GONE_SHOW = 0.003, 0.0005
SLIVER_OUT, SLIVER_SHOW = 0.03, 0.012  # this much more makes a whole sliver of it
WELL_IN_VIEW = 0.85


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
    out = (
        stands_out(view.u, view.v, own_left, 1.0, right_rows, low, high),
        stands_out(view.u, view.v, own_right, -1.0, left_rows, low, high),
    )
    return (*show, *out, max(map(_sliver, show, out, frontal_area)))


def _sliver(show: float, out: float, frontal: float) -> float:
    """How far an ear is from gone and from well in view, whichever is nearer."""
    if frontal <= 0.0:
        return 0.0
    past_gone = max((show - GONE_SHOW) / SLIVER_SHOW, (out - GONE_OUT) / SLIVER_OUT)
    short_of_view = 1.0 - show / frontal / WELL_IN_VIEW
    return min(max(min(past_gone, short_of_view), 0.0), 1.0)
