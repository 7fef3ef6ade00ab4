"""Measures of the crop: where the finished picture's edges fall on the head."""

from sitwell.scene.definitions import SHARE_OF_HEIGHT, Measure
from sitwell.scene.framing import HeadHeights, crop_clearance, picture_top_and_height
from sitwell.scene.raster import highest
from sitwell.scene.view import View

MEASURES = (
    Measure("eye_line_share", "picture heights", "Top edge of the picture down to the eyes."),
    Measure(
        "head_room_share",
        "picture heights",
        "Air between the top edge and the crown, negative when the edge cuts the head.",
    ),
    Measure(
        "crop_clearance",
        SHARE_OF_HEIGHT,
        "How far the top edge keeps from where a cut looks wrong (hairline to crown, the brow and "
        "below), negative inside.",
    ),
)


def crop_measures(view: View) -> tuple[float, ...]:
    """Values in the order of MEASURES."""
    heights = head_heights(view)
    top, height = picture_top_and_height(heights, view.setup, view.frame.unit_per_mm)
    return (
        (top - heights.eyes) / height,
        (top - heights.crown) / height,
        crop_clearance(heights, top),
    )


def head_heights(view: View) -> HeadHeights:
    """Heights along the picture's own vertical, in face heights above the eye midpoint."""
    up_x, up_y = view.frame.up

    def height(name: str) -> float:
        return view.along(name) * up_y - view.across(name) * up_x

    return HeadHeights(
        crown=highest(view.u, view.v, view.anatomy.crown_vertices, up_x, up_y),
        hairline=height("hairline"),
        brow=0.5 * (height("brow_own_left") + height("brow_own_right")),
        eyes=0.0,
        chin=height("chin"),
    )
