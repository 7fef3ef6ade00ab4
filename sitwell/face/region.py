"""Rectangles in a picture, upright or leaning, and the pixels in them at a net's own size."""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
Array = NDArray[np.float64]

_FINE = 32  # places between pixels that are told apart
_HALF = _FINE * _FINE // 2  # of a grey level, in the products of two weights


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A rectangle in a picture, its upper edge leaning clockwise by ``lean_rad``."""

    middle_px: Array
    size_px: Array
    lean_rad: float = 0.0

    @property
    def axes_px(self) -> Array:
        """Its whole width (row 0) and height (row 1) as steps in the picture, (2, 2)."""
        cos, sin = np.cos(self.lean_rad), np.sin(self.lean_rad)
        return np.array([[cos, sin], [-sin, cos]]) * self.size_px[:, None]

    def to_picture(self, shares: Array) -> Array:
        """Picture pixels (N, 2) of places (N, 2) in shares of the region's width and height."""
        return np.asarray(self.middle_px + (shares - 0.5) @ self.axes_px)

    def sampled(self, rgb: Pixels, side_px: int, *, black_beyond: bool = False) -> Pixels:
        """Its pixels (side, side, 3); beyond the picture the edge's pixels go on, or black.

        Between pixels by bilinear weights, places to 1/32 of a pixel and halves of a grey level
        rounded up, as the nets' own library does it with OpenCV 4: one grey level more in one
        pixel of a hundred moves a landmark by up to 0.2 px.
        """
        made = np.empty((side_px, side_px, 3), dtype=np.uint8)
        _sample(np.ascontiguousarray(rgb), self._from_sample(side_px), black_beyond, made)
        return made

    def _from_sample(self, side_px: int) -> Array:
        """The homography (3, 3) from the samples' places to the picture's.

        By way of the corners in single precision, as that library has it: where a place falls
        between two of the 1/32, its last digits say to which it goes.
        """
        import cv2

        lean_deg = float(np.degrees(self.lean_rad))
        corners = cv2.boxPoints((self.middle_px.tolist(), self.size_px.tolist(), lean_deg))
        samples = np.array([[0, 1], [0, 0], [1, 0], [1, 1]], dtype=np.float32) * side_px
        return np.asarray(cv2.invert(cv2.getPerspectiveTransform(corners, samples))[1])


@njit(cache=True, nogil=True)
def _sample(rgb: Pixels, place: Array, black_beyond: bool, made: Pixels) -> None:
    height, width = rgb.shape[:2]
    for row in range(made.shape[0]):
        for column in range(made.shape[1]):
            fine = _FINE / (place[2, 0] * column + place[2, 1] * row + place[2, 2])
            x = round((place[0, 0] * column + place[0, 1] * row + place[0, 2]) * fine)
            y = round((place[1, 0] * column + place[1, 1] * row + place[1, 2]) * fine)
            left, top, right_share, low_share = x // _FINE, y // _FINE, x % _FINE, y % _FINE
            for colour in range(3):
                total = _HALF
                for down in range(2):
                    for along in range(2):
                        at_y, at_x = top + down, left + along
                        inside = 0 <= at_y < height and 0 <= at_x < width
                        if black_beyond and not inside:
                            continue
                        at_y, at_x = min(max(at_y, 0), height - 1), min(max(at_x, 0), width - 1)
                        weight = (low_share if down else _FINE - low_share) * (
                            right_share if along else _FINE - right_share
                        )
                        total += weight * rgb[at_y, at_x, colour]
                made[row, column, colour] = total // (_FINE * _FINE)
