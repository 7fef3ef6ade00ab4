"""What is measured in the picture itself: sharpness, brightness, burnt-out skin, mirrored light."""

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from sitwell.head.shading import LUMINANCE, linear_from_srgb

Pixels = NDArray[np.uint8]
Points = NDArray[np.float64]
Mask = NDArray[np.bool_]

PATCH_PX = 128
ENOUGH_PX = 256  # across an outline, to tell shares of its area
BURNT = 254
MIRRORED = 250
_LINEAR = linear_from_srgb(np.arange(256, dtype=np.uint8))


def sharpness(rgb: Pixels, centre_px: Points, half_px: float) -> float:
    """Fine contrast over all contrast in a square, 0 when it is flat or outside the picture.

    It falls as blur grows, and forgives exposure. It depends on what is in the square, so only
    ratios for the same place in frames of one burst mean anything (Pertuz, Puig and Garcia 2013
    find that focus measures depend on noise, contrast and window).
    """
    patch = _patch(rgb, centre_px, half_px)
    if patch is None:
        return 0.0
    across, along = patch[1:-1, 2:] - patch[1:-1, :-2], patch[2:, 1:-1] - patch[:-2, 1:-1]
    whole = float(patch.var())
    # One grey level of noise must not look like detail where there is nothing to be sharp.
    return float((across**2 + along**2).mean()) / (whole + 4.0)


def luminance(rgb: Pixels, centre_px: Points, half_px: float) -> float | None:
    """Median linear luminance, 0..1, of a square; None when it lies outside the picture."""
    box = _box(rgb, centre_px, half_px)
    if box is None:
        return None
    left, top, right, bottom = box
    values = np.sort(_LINEAR[rgb[top:bottom, left:right]] @ LUMINANCE, axis=None)
    return float(values[(len(values) - 1) // 2] + values[len(values) // 2]) / 2


def stops_between(first: float | None, second: float | None) -> float | None:
    """How many stops brighter the first luminance is; None where either is unknown."""
    if first is None or second is None:
        return None
    dark = 1e-4  # about what 8 bits can still tell from black
    return math.log2(max(first, dark) / max(second, dark))


def burnt_share(rgb: Pixels, outline_px: Points, holes_px: list[Points]) -> float | None:
    """Share of the face that has lost its drawing in at least two colours, holes left out."""
    red, green, blue, inside = _inside(rgb, outline_px, holes_px, BURNT)
    return _share(red & green | green & blue | blue & red, inside)


def mirrored_share(rgb: Pixels, outline_px: Points) -> float | None:
    """Share of an eye's surroundings that is white to the end of the scale."""
    red, green, blue, inside = _inside(rgb, outline_px, [], MIRRORED)
    return _share(red & green & blue, inside)


def _patch(rgb: Pixels, centre_px: Points, half_px: float) -> NDArray[np.float32] | None:
    box = _box(rgb, centre_px, half_px)
    if box is None:
        return None
    left, top, right, bottom = box
    grey = Image.fromarray(rgb[top:bottom, left:right]).convert("L")
    if max(grey.size) > PATCH_PX:
        grey = grey.resize((PATCH_PX, PATCH_PX), Image.Resampling.BOX)
    return np.asarray(grey, dtype=np.float32)


def _box(rgb: Pixels, centre_px: Points, half_px: float) -> tuple[int, int, int, int] | None:
    """The square clipped to the picture; None when less than half of it is inside."""
    # Plain numbers: there are dozens of squares in a frame.
    x, y = float(centre_px[0]), float(centre_px[1])
    edges = [round(edge) for edge in (x - half_px, y - half_px, x + half_px, y + half_px)]
    sides = (rgb.shape[1], rgb.shape[0]) * 2
    left, top, right, bottom = (
        min(max(edge, 0), side) for edge, side in zip(edges, sides, strict=True)
    )
    whole = (edges[2] - edges[0]) * (edges[3] - edges[1])
    inside = (right - left) * (bottom - top)
    if min(right - left, bottom - top) < 8 or inside < whole / 2:
        return None
    return left, top, right, bottom


def _inside(
    rgb: Pixels, outline_px: Points, holes_px: list[Points], level: int
) -> tuple[Mask, Mask, Mask, Mask]:
    """Where red, green and blue reach a level about an outline, and what lies inside it."""
    low = np.floor(outline_px.min(axis=0)).astype(int).clip(0)
    high = np.ceil(outline_px.max(axis=0)).astype(int) + 1
    stride = max(1, int((high - low).max()) // ENOUGH_PX)
    piece = rgb[low[1] : high[1] : stride, low[0] : high[0] : stride]
    inside = Image.new("1", (piece.shape[1], piece.shape[0]))
    draw = ImageDraw.Draw(inside)
    for value, shape in [(1, outline_px), *((0, hole) for hole in holes_px)]:
        draw.polygon([(float(x), float(y)) for x, y in (shape - low) / stride], fill=value)
    red, green, blue = (piece[..., colour] >= level for colour in range(3))
    return red, green, blue, np.asarray(inside)


def _share(chosen: Mask, inside: Mask) -> float | None:
    """The share of what is inside; None where hardly any of it is in the picture."""
    count = int(np.count_nonzero(inside))
    if count == 0 or min(inside.shape) < 2:
        return None
    return int(np.count_nonzero(chosen & inside)) / count
