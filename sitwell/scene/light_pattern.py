"""The name of the light, from where the nose's shadow falls and how the far cheek is lit.

Names and what they mean are common practice (no source); the limits are ours, judged on previews.
They count what the key gives in the picture, never where it stands.
"""

from collections.abc import Mapping

BUTTERFLY, LOOP, REMBRANDT, SPLIT = "butterfly", "loop", "Rembrandt", "split"
TOLD_BY = {"lit_side", "nose_shadow_angle_deg", "nose_shadow_length"}
BROAD, SHORT = "broad", "short"
LEAST_SHADOW = 0.03  # face heights; a shorter one lies on the nose itself
STRAIGHT_DOWN_DEG = 10.0
# What the key gives the less lit cheek, against the other: below the first the nose's shadow has
# met the cheek's own shade and leaves a lit patch, below the second nothing is left of it.
MET, NOTHING_LEFT = 0.18, 0.04
LEAST_FILL_RATIO = 1.5  # with more fill than this no shadow draws anything
LEAST_BREADTH = 0.3


def light_pattern(measures: Mapping[str, float], fill_ratio: float) -> str:
    """The pattern's name; empty where no shadow draws the face, or the light was not measured."""
    if not measures.keys() >= TOLD_BY or fill_ratio < LEAST_FILL_RATIO:
        return ""
    side = abs(measures["lit_side"])
    less_lit = (1.0 - side) / (1.0 + side)
    if less_lit < NOTHING_LEFT:
        return SPLIT
    if less_lit < MET:
        return REMBRANDT
    if measures["nose_shadow_length"] < LEAST_SHADOW:
        return ""
    down = abs(measures["nose_shadow_angle_deg"]) <= STRAIGHT_DOWN_DEG
    return BUTTERFLY if down else LOOP


def light_breadth(measures: Mapping[str, float]) -> str:
    """Broad where the side nearer the camera is the lit one, short where it is not; or empty."""
    broadness = measures.get("broadness", 0.0)
    if abs(broadness) < LEAST_BREADTH:
        return ""
    return BROAD if broadness > 0.0 else SHORT
