"""How much an ear draws the eye in the picture: one number from all that a photographer minds.

What is seen of it, how light it is, how it stands against what is behind it, and how sharp it is
multiply: an ear that is gone, dark, of the ground's tone or soft hardly draws the eye, whatever
the others say. Light counts beside contrast, or a lit ear before an equally bright wall would pass
for unseen. The form is a design choice.
"""

import math
from collections.abc import Callable

from sitwell.head.surface import SIDES

OUTLINE = 0.35  # a face height of outline against a face area of ear
LIGHT = 0.8  # doublings for each stop of light on it
ALWAYS = 0.6  # stops of contrast that an ear has within itself
SOFT_SHARE = 0.035  # blur, in face heights, that halves it
UNSEEN = 0.0001  # of the face's area: gone


def prominence(
    show: float, out: float, light_stops: float, contrast_stops: float, blur_share: float
) -> float:
    """One ear's prominence, face areas: 0 = gone, about 0.02 for a usual ear straight on."""
    if show < UNSEEN:
        return 0.0
    seen = 0.5 * (show + OUTLINE * out)
    return (
        seen
        * 2.0 ** (LIGHT * light_stops)
        * (ALWAYS + abs(contrast_stops))
        / (1.0 + (blur_share / SOFT_SHARE) ** 2)
    )


def both_ears(read: Callable[[str], float]) -> float:
    """Both ears' prominence from measures by name; not a number where one is missing."""
    values = [
        (
            read(f"ear_show_{side}"),
            read(f"ear_out_{side}"),
            read(f"light_ear_{side}_stops"),
            read(f"ear_contrast_{side}"),
            read(f"blur_ear_{side}_share"),
        )
        for side in SIDES
    ]
    if any(math.isnan(value) for ear in values for value in ear[:2]):
        return math.nan
    return sum(prominence(*ear) for ear in values)
