"""Where the edges of the eyelids lie in a photograph: measured in its pixels, not guessed.

The landmarker draws every eye toward an average one: of a difference between two eyes it shows
a fifth. So its lid contours are only where the search begins: each is slid up and down, and a
little aslant, over the eye, and stays where the picture changes most along the whole of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sitwell.face.crop import Crop, crop_laid, cropped
from sitwell.face.landmarks import Pixels, Points

# Landmarks along each lid, from the outer to the inner corner of the eye.
_UPPER = {
    "own_left": (263, 466, 388, 387, 386, 385, 384, 398, 362),
    "own_right": (33, 246, 161, 160, 159, 158, 157, 173, 133),
}
_LOWER = {
    "own_left": (263, 249, 390, 373, 374, 380, 381, 382, 362),
    "own_right": (33, 7, 163, 144, 145, 153, 154, 155, 133),
}
# All lengths from here on are shares of the eye's width, corner to corner.
_ALONG = np.linspace(0.2, 0.8, 64)
_ACROSS = np.linspace(-0.5, 0.6, 111)
_SHIFTS = np.arange(-0.2, 0.2001, 0.005)
_SLANTS = np.array([-0.06, -0.03, 0.0, 0.03, 0.06])
_LIKELY_SHIFT = 0.1
_AT_CORNERS = 0.35  # of the shift: the corners move less than the middle
_SOFT_ACROSS, _SOFT_ALONG = 1.2, 1.0  # pixels of the patch
_REACH_ACROSS, _REACH_ALONG = 11, 9  # four times as far to both sides
_MIDDLE = slice(28, 36)
# Skin and eye differ in colour more surely than in brightness, which shadow changes too.
_OF_BRIGHTNESS, _OF_COLOUR = 0.5, 1.5
_NARROWEST_EYE_PX = 18.0
_EYE_PX, _DETAIL_MM = 40, 1.0  # of the patch about an eye whose detail is measured

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LidEdges:
    """Middles of one eye's upper and lower lid edge (2,) in the picture's pixels.

    ``sharpness`` is how much stronger the picture changes there than elsewhere in the search, the
    weaker lid's; about 1 where there is no edge to be seen.
    """

    upper_px: Points
    lower_px: Points
    sharpness: float

    def scaled(self, scale: float) -> "LidEdges":
        """The edges in a picture ``scale`` times as large."""
        return LidEdges(
            upper_px=self.upper_px * scale,
            lower_px=self.lower_px * scale,
            sharpness=self.sharpness,
        )


def eye_detail(rgb: Pixels, landmarks_px: Points) -> float:
    """How fine the detail at the nearer eye is: below 0.12 it is blurred by some 2 mm.

    The strength of the finest steps (a Laplacian over a pixel) over the eye's whole contrast, where
    a pixel covers 1 mm of the face, or as little as the picture shows. The nearer eye shows wider.
    """
    ends = [landmarks_px[[lid[0], lid[-1]]] for lid in _UPPER.values()]
    nearer = max(ends, key=lambda corners: float(np.linalg.norm(corners[0] - corners[1])))
    crop = crop_laid(landmarks_px, _DETAIL_MM, (0.0, 0.0))
    coarser = max(1.0, 1.0 / float(np.linalg.norm(crop.axes_px[0])))
    axes = crop.axes_px * coarser
    corner = nearer.mean(axis=0) - np.full(2, _EYE_PX / 2) @ axes
    eye = cropped(rgb, Crop(origin_px=corner, axes_px=axes), _EYE_PX, _EYE_PX)
    tones = np.asarray(Image.fromarray(eye).convert("L"), dtype=np.float64)
    finest = cv2.Laplacian(tones, cv2.CV_64F, borderType=cv2.BORDER_REFLECT)
    return float(np.abs(finest).mean() / max(tones.std(), 1.0))


def find_lids(rgb: Pixels, landmarks_px: Points) -> Mapping[str, LidEdges]:
    """Lid edges by side, ``own_left`` and ``own_right``; ``landmarks_px`` in pixels of ``rgb``.

    An eye narrower than 18 pixels is left out.
    """
    found = {side: _edges(rgb, landmarks_px, side) for side in _UPPER}
    return {side: edges for side, edges in found.items() if edges is not None}


def _edges(rgb: Pixels, landmarks_px: Points, side: str) -> LidEdges | None:
    outer, inner = landmarks_px[_UPPER[side][0]], landmarks_px[_UPPER[side][-1]]
    width = float(np.linalg.norm(inner - outer))
    if width < _NARROWEST_EYE_PX:
        return None
    along = (inner - outer) / width
    up = np.array([along[1], -along[0]]) * (1.0 if along[0] > 0 else -1.0)
    axes = np.stack([along, up]) * width
    change = _change(rgb, outer, axes)
    places, strengths = [], []
    for numbers in (_UPPER[side], _LOWER[side]):
        contour = (landmarks_px[list(numbers)] - outer) @ axes.T / width**2
        place, strength = _slid(change, contour)
        places.append(outer + np.array([0.5, place]) @ axes)
        strengths.append(strength)
    return LidEdges(upper_px=places[0], lower_px=places[1], sharpness=min(strengths))


def _change(rgb: Pixels, outer: Points, axes: Array) -> Array:
    """How fast colour changes across the lids at every place of the eye's patch."""
    grid = np.stack(np.meshgrid(_ALONG, _ACROSS), axis=-1) @ axes + outer
    low = np.floor(grid.min(axis=(0, 1))).astype(int) - 1
    high = np.ceil(grid.max(axis=(0, 1))).astype(int) + 2
    low, high = np.maximum(low, 0), np.maximum(high, low + 2)
    piece = rgb[low[1] : high[1], low[0] : high[0]]
    if min(piece.shape[:2]) < 2:
        return np.zeros(grid.shape[:2])
    x, y = (grid - low - 0.5).transpose(2, 0, 1)
    red, green, blue = _between(np.log(piece.astype(float) + 8.0), y, x).transpose(2, 0, 1)
    patch = np.stack(
        [
            _OF_BRIGHTNESS * (red + green + blue) / 3.0,
            _OF_COLOUR * (red - green),
            _OF_COLOUR * (blue - green),
        ],
        axis=-1,
    )
    along = cv2.getGaussianKernel(_REACH_ALONG, _SOFT_ALONG, cv2.CV_64F)
    across = cv2.getGaussianKernel(_REACH_ACROSS, _SOFT_ACROSS, cv2.CV_64F)
    off = np.arange(_REACH_ACROSS)[:, None] - _REACH_ACROSS // 2
    across = across * off / _SOFT_ACROSS**2  # the bell's slope
    slope = cv2.sepFilter2D(patch, cv2.CV_64F, along, across, borderType=cv2.BORDER_REFLECT)
    change = np.sqrt((slope**2).sum(axis=-1))
    return np.asarray(np.minimum(change, np.percentile(change, 99)), dtype=np.float64)


def _between(values: Array, y: Array, x: Array) -> Array:
    """Values (H, W, ...) at places between them, linearly; beyond the edge the edge's go on."""
    height, width = values.shape[:2]
    y, x = np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)
    top = np.minimum(y.astype(int), max(height - 2, 0))
    left = np.minimum(x.astype(int), max(width - 2, 0))
    low = np.minimum(top + 1, height - 1)
    right = np.minimum(left + 1, width - 1)
    beside = (slice(None),) * y.ndim + (None,) * (values.ndim - 2)
    down, along = (y - top)[beside], (x - left)[beside]
    upper = values[top, left] * (1 - along) + values[top, right] * along
    lower = values[low, left] * (1 - along) + values[low, right] * along
    return np.asarray(upper * (1 - down) + lower * down)


def _slid(change: Array, contour: Array) -> tuple[float, float]:
    """Where the contour (n, 2) comes to lie in the middle of the eye, and how sharp the edge is."""
    order = np.argsort(contour[:, 0])
    begun = np.interp(_ALONG, contour[order, 0], contour[order, 1])
    bow = np.clip(1.0 - ((_ALONG - 0.5) / 0.5) ** 2, 0.0, 1.0)
    lift = _SHIFTS[:, None] * (_AT_CORNERS + (1.0 - _AT_CORNERS) * bow)
    slant = _SLANTS[:, None, None] * (_ALONG - 0.5) * 2.0
    row = (begun + lift + slant - _ACROSS[0]) / (_ACROSS[1] - _ACROSS[0])
    column = np.broadcast_to(np.arange(len(_ALONG), dtype=np.float64), row.shape)
    mean = _between(change, row, column).mean(axis=2)
    mean *= np.exp(-0.5 * (_SHIFTS / _LIKELY_SHIFT) ** 2)
    best = np.unravel_index(np.argmax(mean), mean.shape)
    by_shift = mean[best[0]]
    strength = float(by_shift[best[1]] / max(np.median(by_shift), 1e-9))
    shift = _SHIFTS[best[1]] + _between_steps(by_shift, int(best[1]))
    return float(begun[_MIDDLE].mean() + shift), strength


def _between_steps(values: Array, top: int) -> float:
    """The parabola's top about the highest of evenly spaced values, off that one, in shifts."""
    if not 0 < top < len(values) - 1:
        return 0.0
    before, here, after = values[top - 1 : top + 2]
    bend = before - 2.0 * here + after
    return float(0.5 * (before - after) / bend * (_SHIFTS[1] - _SHIFTS[0])) if bend < 0 else 0.0
