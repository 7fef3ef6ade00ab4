"""Measures of the face's and the jaw's shape in the picture."""

import numpy as np

from sitwell.head.regions import Region
from sitwell.scene.definitions import SHARE_OF_AREA, SHARE_OF_HEIGHT, Measure
from sitwell.scene.lens import magnification_ratio
from sitwell.scene.outline import depth_step_under, slice_extent
from sitwell.scene.raster import extremes
from sitwell.scene.view import View

MEASURES = (
    Measure("forehead_share", SHARE_OF_HEIGHT, "Brow line to hairline along the face's vertical."),
    Measure(
        "crown_share",
        SHARE_OF_HEIGHT,
        "Brow line to the top of the head's outline; stands for the forehead where hair is thin.",
    ),
    Measure(
        "face_breadth",
        SHARE_OF_HEIGHT,
        "Cheekbone to cheekbone; on the far side as far as the cheek's outline shows.",
    ),
    Measure("under_chin", SHARE_OF_AREA, "Visible area under the edge of the jaw."),
    Measure(
        "jaw_edge",
        "0 to 1",
        "How sharply jaw and chin stand off the neck: mean depth step along their lower edge, "
        "20 mm or more counting 1.",
    ),
    Measure(
        "near_far_stretch",
        "ratio",
        "Magnification at the nose tip over magnification at the ears' outer edges.",
    ),
)

FULL_JAW_STEP_MM = 20.0
_JAW = np.zeros(len(Region), dtype=np.bool_)
_JAW[[Region.CHIN, Region.JAW_OWN_LEFT, Region.JAW_OWN_RIGHT]] = True
_UNDER = np.zeros(len(Region), dtype=np.bool_)
_UNDER[[Region.UNDER_JAW, Region.NECK]] = True


def shape_measures(view: View, cheeks: tuple[float, float]) -> tuple[float, ...]:
    """Values in the order of MEASURES; ``cheeks`` as ``cheek_span`` gives them."""
    anatomy = view.anatomy
    brow = brow_line(view)
    _, _, _, crown = extremes(view.u, view.v, anatomy.crown_vertices)
    return (
        view.along("hairline") - brow,
        crown - brow,
        cheeks[1] - cheeks[0],
        view.area(Region.UNDER_JAW),
        depth_step_under(view.shown, view.nearest, anatomy.region, _JAW, _UNDER, FULL_JAW_STEP_MM),
        magnification_ratio(view.depth_mm("nose_tip"), _ear_depth_mm(view)),
    )


def cheek_span(view: View) -> tuple[float, float]:
    """u of the visible cheekbones, or of the cheek's outline before them, own right first."""
    left_arc, right_arc = view.anatomy.cheek_arcs
    _, most = slice_extent(view.u, left_arc.first, left_arc.second, left_arc.share)
    least, _ = slice_extent(view.u, right_arc.first, right_arc.second, right_arc.share)
    return least, most


def brow_line(view: View) -> float:
    """v of the brow line, midway between the two brows."""
    return 0.5 * (view.along("brow_own_left") + view.along("brow_own_right"))


def _ear_depth_mm(view: View) -> float:
    return 0.5 * (view.depth_mm("ear_outer_own_left") + view.depth_mm("ear_outer_own_right"))
