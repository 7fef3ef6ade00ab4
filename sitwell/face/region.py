"""Rectangles in a picture, upright or leaning, and the pixels in them at a net's own size."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.face.shrink import halve

Pixels = NDArray[np.uint8]
Array = NDArray[np.float64]

_MOST_PX = 32_000  # of a side: as much as OpenCV samples
_FINE = 32  # places between pixels that are told apart


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
        import cv2

        if max(rgb.shape) > _MOST_PX:
            half = Region(
                middle_px=self.middle_px / 2, size_px=self.size_px / 2, lean_rad=self.lean_rad
            )
            return half.sampled(halve(rgb), side_px, black_beyond=black_beyond)
        steps = np.arange(side_px, dtype=np.float64)
        place = self._from_sample(side_px)
        across, down, depth = (row[0] * steps + row[1] * steps[:, None] + row[2] for row in place)
        fine = _FINE / depth
        x, y = (np.rint(way * fine).astype(np.int64) for way in (across, down))
        # what lies farther out is beyond as well, and fits the few bits that OpenCV takes
        height, width = rgb.shape[:2]
        x, y = (
            np.clip(x, -2 * _FINE, (width + 1) * _FINE),
            np.clip(y, -2 * _FINE, (height + 1) * _FINE),
        )
        whole = np.stack([x // _FINE, y // _FINE], axis=-1).astype(np.int16)
        shares = (y % _FINE * _FINE + x % _FINE).astype(np.uint16)
        beyond = cv2.BORDER_CONSTANT if black_beyond else cv2.BORDER_REPLICATE
        given = np.ascontiguousarray(rgb)
        made = cv2.remap(given, whole, shares, cv2.INTER_LINEAR, borderMode=beyond)
        return np.asarray(made, np.uint8)

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
