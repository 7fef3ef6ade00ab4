"""Whether what the net calls a hat looks other than the hair that it lies on.

A hat ends in an edge. Where the border that the net draws between hat and hair has no step in the
picture, it runs through one smooth body, which may as well be hair: that is asked, not said.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.face.parts import Part, PartsSeen

# How far to both sides of the border colours are compared, in mm.
_BESIDE_MM = 10.0
# A step of fewer levels (of 255, encoded) is none; a border that makes up less of the hat's rim
# than this says nothing. By pictures drawn for it: docs/reading.md.
_STEP, _OF_RIM = 8.0, 0.25
_NEXT = np.ones((3, 3), np.uint8)

Cells = NDArray[np.bool_]
Floats = NDArray[np.float32]


def is_apart_from_hair(parts: PartsSeen, hat: Cells) -> bool:
    """Whether the cells (S, S) of a hat differ in colour from the hair beside them, if any is."""
    hair = parts.shares.argmax(axis=0) == Part.HAIR
    wide = 2 * round(_BESIDE_MM / parts.mm_per_cell) + 1
    hat_side = hat & _grown(hair, wide)
    hair_side = hair & _grown(hat, wide)
    border = hat_side & _grown(hair_side, 3)
    rim = hat & (cv2.erode(hat.astype(np.uint8), _NEXT) == 0)
    if border.sum() < _OF_RIM * rim.sum():
        return True
    across = _mean_near(parts.colours, hat_side, wide) - _mean_near(parts.colours, hair_side, wide)
    return bool(np.median(np.abs(across).mean(axis=2)[border]) >= _STEP)


def _grown(cells: Cells, wide: int) -> Cells:
    return np.asarray(cv2.dilate(cells.astype(np.uint8), np.ones((wide, wide), np.uint8)) > 0)


def _mean_near(colours: Floats, cells: Cells, wide: int) -> Floats:
    """The mean colour (S, S, 3) of the chosen cells about each cell."""
    own = cells.astype(np.float32)
    total = cv2.blur(colours * own[..., None], (wide, wide))
    return np.asarray(total / np.maximum(cv2.blur(own, (wide, wide)), 1e-6)[..., None])
