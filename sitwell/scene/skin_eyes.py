"""The colours of a sitter's eyes, from the frame that shows each eye best.

An eyeball is not painted like skin: it turns under the lids, and its highlights belong to the
frame's lights. White, iris and pupil are measured around the iris's middle, as the landmarks see
it, and drawn anew where the eye looks.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion

from sitwell.head.regions import Region
from sitwell.head.surface import SIDES
from sitwell.scene.skin import EyeColours
from sitwell.scene.skin_frame import Held
from sitwell.scene.skin_light import LEAST_LIGHT

Floats = NDArray[np.float64]

IRIS_MIDDLES = (468, 473)  # the landmarks in the middle of the irises
IRIS_MM, WHITE_MM, PUPIL_SEEN_MM = (2.6, 5.0), (6.9, 13.0), 1.1
PUPIL_LEAST_MM, PUPIL_MOST_MM, PUPIL_USUAL_MM = 1.2, 3.2, 1.9
PUPIL_CONTRAST = 0.6  # a pupil darker than this share of the iris can be told from it
WHITEST = 0.7  # the white of an eye is no brighter than this, however the light was read
FEWEST_PIXELS = 12
EACH_PX_PER_MM = 1.5
PUPIL_PX_PER_MM = 2.0  # a coarser picture can't tell how wide the pupil is
WEIGHTS = np.array([0.2126, 0.7152, 0.0722])  # of linear red, green and blue (IEC 61966-2-1)


def eye_colours(held: Sequence[Held], usual: EyeColours) -> Mapping[str, EyeColours]:
    """Each eye's colours by side; ``usual`` where no frame shows the eyes well enough.

    In a coarse picture a few pixels would decide, so both eyes are then read as one.
    """
    seen = {side: _best(held, side) for side in SIDES}
    if max(frame.px_per_mm for frame in held) < EACH_PX_PER_MM:
        both = tuple(np.concatenate(parts) for parts in zip(*seen.values(), strict=True))
        return dict.fromkeys(SIDES, _colours(both[0], both[1], held, usual))
    return {side: _colours(colour, off_mm, held, usual) for side, (colour, off_mm) in seen.items()}


def _best(held: Sequence[Held], side: str) -> tuple[Floats, Floats]:
    return max((_pixels(frame, side) for frame in held), key=lambda pair: len(pair[1]))


def _pixels(held: Held, side: str) -> tuple[Floats, Floats]:
    """Colour (n, 3) without its light, and distance (n,) from the iris's middle, of an eye."""
    regions = np.repeat(held.head.region_of_triangle, 4)
    wanted = [Region[f"{part}_{side.upper()}"] for part in ("WHITE", "IRIS")]
    shown = held.map.shown
    mine = binary_erosion((shown >= 0) & np.isin(regions[shown], wanted), iterations=1)
    rows, columns = np.nonzero(mine)
    if len(rows) == 0 or held.frame.face is None:
        return np.empty((0, 3)), np.empty(0)
    full_px = held.map.full_px(np.column_stack([columns, rows]).astype(np.float64) + 0.5)
    light = held.light[held.fine.triangles[shown[rows, columns]]].mean(axis=1)
    colour = held.picture.sample(held.picture.at(full_px))
    middles = held.frame.face.landmarks_px[list(IRIS_MIDDLES)]
    middle = middles[np.argmin(np.linalg.norm(middles - full_px.mean(axis=0), axis=1))]
    off_mm = np.linalg.norm(full_px - middle, axis=1) / held.px_per_mm
    return colour / np.maximum(light, LEAST_LIGHT)[:, None], off_mm


def _colours(colour: Floats, off_mm: Floats, held: Sequence[Held], usual: EyeColours) -> EyeColours:
    iris = colour[(off_mm > IRIS_MM[0]) & (off_mm < IRIS_MM[1])]
    white = colour[(off_mm > WHITE_MM[0]) & (off_mm < WHITE_MM[1])]
    if len(iris) < FEWEST_PIXELS or len(white) < FEWEST_PIXELS:
        return usual
    bright = white @ WEIGHTS
    # the darker half lies in the shade of lids and lashes
    in_light = white[bright >= np.median(bright)]
    iris_colour = np.median(iris, axis=0)
    return EyeColours(
        white=np.minimum(np.median(in_light, axis=0), WHITEST),
        iris=iris_colour,
        pupil_mm=_pupil_mm(colour @ WEIGHTS, off_mm, float(iris_colour @ WEIGHTS), held),
    )


def _pupil_mm(light: Floats, off_mm: Floats, iris: float, held: Sequence[Held]) -> float:
    middle = light[off_mm < PUPIL_SEEN_MM]
    sharp = min(frame.px_per_mm for frame in held) >= PUPIL_PX_PER_MM
    if not sharp or len(middle) < 4:
        return PUPIL_USUAL_MM
    dark = float(np.quantile(middle, 0.25))
    if dark > PUPIL_CONTRAST * iris:
        return PUPIL_USUAL_MM
    near = off_mm < IRIS_MM[1]
    share = float((light[near] < 0.5 * (dark + iris)).mean())
    return min(max(IRIS_MM[1] * math.sqrt(share), PUPIL_LEAST_MM), PUPIL_MOST_MM)
