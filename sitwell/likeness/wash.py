"""Washes of a drawing: flat tones where the key leaves the skin in shade."""

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.likeness.pen import smoothed

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

COARSER = 3  # light is drawn on pixels so much larger
SOFT_PX = 2.2  # of those, by which its edges are rounded


def outlines(mask: Flags, finer: float, ease: float, least: int = 12) -> tuple[Floats, ...]:
    """Rings (N, 2) in pixels of a picture about a mask that is ``finer``, holes among them.

    Smoothed by ``ease`` steps of the mask's own pixels; ones with fewer than ``least`` are left.
    """
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    rings = ((ring[:, 0].astype(np.float64) + 0.5) / finer for ring in found if len(ring) >= least)
    return tuple(smoothed(ring, ease, closed=True) for ring in rings)


def shade_stops(picture: NDArray[np.uint8], skin: Flags, figure: Flags) -> Floats:
    """Stops of light against the lit skin, (H, W) of the masks, from a ``picture`` in plaster.

    The picture may be smaller than the masks; outside the ``figure`` its edge goes on.
    """
    coded = picture[..., 1].astype(np.float32) / 255.0
    light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    size = coded.shape[::-1]
    inside = _shrunk(figure, size)
    # the ground must not leak in at the outline
    spread = cv2.GaussianBlur(light * inside, (0, 0), SOFT_PX)
    share = cv2.GaussianBlur(inside, (0, 0), SOFT_PX)
    lit_skin = light[_shrunk(skin, size) > 0.0]
    lit = float(np.percentile(lit_skin, 90)) if len(lit_skin) else 1.0
    stops = np.log2(np.maximum(spread / np.maximum(share, 1e-3), 1e-4) / max(lit, 1e-4))
    height, width = figure.shape
    return np.asarray(cv2.resize(stops, (width, height), interpolation=cv2.INTER_CUBIC))


def _shrunk(mask: Flags, size: tuple[int, int]) -> NDArray[np.float32]:
    """1 where the whole of a larger pixel is in the mask, else 0."""
    share = cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    return np.asarray((share > 0.99).astype(np.float32))
