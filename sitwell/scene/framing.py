"""Framing and crop: how much of the sitter the picture holds, and where its edges fall.

Pictures are upright. The sensor is turned upright too, and the aspect is cut from its middle. What
each framing holds, and where the eye line sits, is common practice, no source.
"""

from dataclasses import dataclass

from sitwell.scene.lens import image_distance_mm
from sitwell.scene.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Framing:
    """What a framing holds: picture height at the sitter, eye line as a share from the top."""

    height_mm: float
    eye_line_share: float


FRAMINGS = {
    "tight-head": Framing(height_mm=370.0, eye_line_share=0.38),
    "head-and-shoulders": Framing(height_mm=520.0, eye_line_share=0.36),
    "half-length": Framing(height_mm=950.0, eye_line_share=0.26),
    "three-quarter-length": Framing(height_mm=1220.0, eye_line_share=0.20),
    "full-length": Framing(height_mm=2000.0, eye_line_share=0.14),
}
LEAST_HEAD_ROOM_SHARE = 0.03  # a whole head needs some air above it
# A cut into the forehead: this far up from the brow to the hairline. The picture is then no taller
# than what holds a head's breadth and the chin with some air below it, so that the eye line comes
# as near a third as the chin allows.
BROW_TO_HAIRLINE_CUT = 0.5
CLOSE_WIDTH_MM = 185.0
AIR_BELOW_CHIN_SHARE = 0.1


def aspect_ratio(aspect: str) -> float:
    """Height over width of an upright picture: "4:5" is 1.25."""
    first, second = (float(part) for part in aspect.split(":"))
    return max(first, second) / min(first, second)


def picture_size_mm(setup: Setup) -> tuple[float, float]:
    """Width and height on the sensor of the upright cut of the set-up's aspect."""
    tall = max(setup.sensor_width_mm, setup.sensor_height_mm)
    narrow = min(setup.sensor_width_mm, setup.sensor_height_mm)
    ratio = aspect_ratio(setup.aspect)
    height = min(tall, narrow * ratio)
    return height / ratio, height


def distance_for_framing(setup: Setup, framing: str | None = None) -> float:
    """Distance in mm at which the set-up's lens fills its picture with the framing (thin lens).

    ``framing`` stands in for the set-up's own. From magnification m = f / (s - f).
    """
    held_mm = FRAMINGS[framing or setup.framing].height_mm
    _, height_mm = picture_size_mm(setup)
    return setup.focal_mm * (1.0 + held_mm / height_mm)


def held_height_mm(setup: Setup) -> float:
    """Height at the sitter that the whole upright cut holds from the set-up's distance."""
    _, height_mm = picture_size_mm(setup)
    return height_mm * setup.distance_mm / image_distance_mm(setup.focal_mm, setup.distance_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadHeights:
    """Heights in the picture, y up in any one unit: what a crop has to heed."""

    crown: float
    hairline: float
    brow: float
    eyes: float
    chin: float


def picture_top_and_height(
    heights: HeadHeights, setup: Setup, unit_per_mm: float
) -> tuple[float, float]:
    """Top edge and height of the finished picture, in the unit of ``heights``.

    ``unit_per_mm`` is the scale at the sitter. A picture can't be taller than the lens holds from
    its distance; one that is cut into the forehead is tighter than its framing.
    """
    framing = FRAMINGS[setup.framing]
    height = min(framing.height_mm, held_height_mm(setup)) * unit_per_mm
    if setup.crop == "into-forehead":
        cut = heights.brow + BROW_TO_HAIRLINE_CUT * (heights.hairline - heights.brow)
        by_breadth = CLOSE_WIDTH_MM * aspect_ratio(setup.aspect) * unit_per_mm
        by_chin = (cut - heights.chin) / (1.0 - AIR_BELOW_CHIN_SHARE)
        return cut, min(height, max(by_breadth, by_chin))
    by_eyes = heights.eyes + framing.eye_line_share * height
    return max(by_eyes, heights.crown + LEAST_HEAD_ROOM_SHARE * height), height


def crop_clearance(heights: HeadHeights, top: float) -> float:
    """How far the top edge stays from where a cut looks wrong, in the unit of ``heights``.

    Positive: above the crown, or in the forehead, by that much from crown, hairline or brow.
    Negative: it cuts between hairline and crown, or below the brow, and by how much.
    """
    if top >= heights.hairline:
        return max(top - heights.crown, heights.hairline - top)
    return min(top - heights.brow, heights.hairline - top)
