"""Crops laid upright on a face's landmarks, for the small nets that look at it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.face.landmarks import Pixels

Array = NDArray[np.float64]

EYES_TO_MOUTH_MM = 68.0  # of the mean head, which is what gives a crop its size
_EYE_OWN_LEFT, _EYE_OWN_RIGHT, _MOUTH = (263, 362), (33, 133), (61, 291)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A piece of a picture, upright on a face: picture = ``origin_px`` + crop @ ``axes_px``.

    ``axes_px`` (2, 2): its rows are what one crop pixel to the right and one down is in the
    picture.
    """

    origin_px: Array
    axes_px: Array

    def scaled(self, scale: float) -> "Crop":
        """The same crop of a picture ``scale`` times as large."""
        return Crop(origin_px=self.origin_px * scale, axes_px=self.axes_px * scale)

    def to_picture(self, points: Array) -> Array:
        """Picture pixels (N, 2) of crop pixels (N, 2)."""
        return np.asarray(self.origin_px + points @ self.axes_px)

    def from_picture(self, points_px: Array) -> Array:
        """Crop pixels (N, 2) of picture pixels (N, 2)."""
        return np.asarray((points_px - self.origin_px) @ np.linalg.inv(self.axes_px))


def crop_laid(landmarks_px: Array, mm_per_px: float, eyes_at_px: tuple[float, float]) -> Crop:
    """The crop on a face with landmarks (478, 2), its mouth straight below its eyes.

    A crop pixel covers about ``mm_per_px`` at the face; the eyes' middle lies at ``eyes_at_px``.
    """
    own_left, own_right, mouth = (
        landmarks_px[list(points)].mean(axis=0)
        for points in (_EYE_OWN_LEFT, _EYE_OWN_RIGHT, _MOUTH)
    )
    eyes, across = (own_left + own_right) / 2, own_left - own_right
    down = mouth - eyes
    wide, high = float(np.linalg.norm(across)), float(np.linalg.norm(down))
    # a turn narrows the eyes' line and a chin up or down the other: the longer one tells the size
    size_px = max(wide, high, 1e-6)
    way = down / max(high, 1e-6) + np.array([-across[1], across[0]]) / max(wide, 1e-6)
    length = float(np.linalg.norm(way))
    way = way / length if length > 1e-6 else np.array([0.0, 1.0])
    step = way * size_px * mm_per_px / EYES_TO_MOUTH_MM
    axes = np.array([[step[1], -step[0]], step])
    return Crop(origin_px=eyes - np.array(eyes_at_px) @ axes, axes_px=axes)


def cropped(rgb: Pixels, crop: Crop, wide_px: int, high_px: int) -> Pixels:
    """The crop's pixels (H, W, 3); where it leaves the picture, the edge's pixels go on."""
    import cv2

    ends = [[0, 0], [0, high_px], [wide_px, 0], [wide_px, high_px]]
    corners = crop.to_picture(np.array(ends))
    height, width = rgb.shape[:2]
    low = np.clip(np.floor(corners.min(axis=0)).astype(int) - 2, 0, (width - 2, height - 2))
    high = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 2, low + 2, (width, height))
    piece = rgb[low[1] : high[1], low[0] : high[0]]
    factor = max(1.0, float(np.linalg.norm(crop.axes_px[0])))
    size = [max(2, round(n / factor)) for n in (piece.shape[1], piece.shape[0])]
    if factor > 1.2:  # shrink by area first, so that nothing is skipped
        shrunk = cv2.resize(np.ascontiguousarray(piece), size, interpolation=cv2.INTER_AREA)
        piece = np.asarray(shrunk, dtype=np.uint8)
    scale = np.array([piece.shape[1], piece.shape[0]]) / (high - low)
    # pixel centres lie at halves here and at whole numbers there
    axes, origin = crop.axes_px * scale, (crop.origin_px - low) * scale
    matrix = np.hstack([axes.T, (origin + 0.5 * axes.sum(axis=0) - 0.5)[:, None]])
    made = cv2.warpAffine(
        np.ascontiguousarray(piece),
        matrix,
        (wide_px, high_px),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(made, dtype=np.uint8)
