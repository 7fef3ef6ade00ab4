"""Light before it meets the head: falloff, ratios, guide numbers, exposure, area sources.

Light is counted relative to a lit surface that faces the key squarely at the face's distance: that
surface has luminance 1 (key and fill together). Two conventions of lighting ratio are in use; every
function says which one it means.
"""

import math
from typing import Literal

from sitwell.base.units import stops_from_ratio

Convention = Literal["additive", "source"]


def stops_between(ratio: float, convention: Convention) -> float:
    """Stops that the key alone is over the fill alone, for a lighting ratio of ``ratio`` to 1.

    ``additive`` counts key plus fill against fill: 3:1 is 1 stop. ``source`` counts key against
    fill: 2:1 is 1 stop. Additive ratios must be above 1.
    """
    return stops_from_ratio(ratio - 1.0 if convention == "additive" else ratio)


def key_and_fill(fill_ratio: float) -> tuple[float, float]:
    """Shares of key and fill that add up to 1 and give the additive ratio (key + fill) / fill."""
    fill = 1.0 / fill_ratio
    return 1.0 - fill, fill


def flash_f_number(guide_number: float, distance: float, iso: float = 100.0) -> float:
    """Aperture for a direct flash; guide number at ISO 100 in the unit of ``distance``."""
    return guide_number / distance * math.sqrt(iso / 100.0)


def exposure_value(f_number: float, shutter_s: float) -> float:
    """EV = log2(N^2 / t), so f/1 at one second is 0."""
    return math.log2(f_number**2 / shutter_s)


def source_angle_rad(size_mm: float, distance_mm: float) -> float:
    """Half the angle that a source of diameter ``size_mm`` fills, seen from the face."""
    return math.atan2(size_mm / 2.0, distance_mm)
