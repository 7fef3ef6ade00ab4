"""Outlines as radii around a middle: how far head and person reach at each angle of a picture."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ANGLES = 360


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """Polar places about a middle (2,) in a picture: y runs down, angles from +x clockwise."""

    middle: Floats

    def polar(self, places: Floats) -> tuple[Floats, Floats, Floats]:
        """Radius (N,), whole-angle bin's position (N,) and unit direction (N, 2) of places."""
        off = places - self.middle
        radius = np.maximum(np.linalg.norm(off, axis=1), 1e-9)
        angle = np.arctan2(off[:, 1], off[:, 0]) % (2.0 * np.pi)
        return radius, angle * ANGLES / (2.0 * np.pi), off / radius[:, None]

    def unrolled(self, picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """A picture (H, W) by angle and whole radius (ANGLES, R), 0 beyond its edges."""
        height, width = picture.shape
        corners = np.array([[0, 0], [width, 0], [0, height], [width, height]])
        most = int(np.ceil(np.linalg.norm(corners - self.middle, axis=1).max()))
        middle = (float(self.middle[0] - 0.5), float(self.middle[1] - 0.5))
        flags = cv2.INTER_LINEAR | cv2.WARP_FILL_OUTLIERS
        return np.asarray(cv2.warpPolar(picture, (most, ANGLES), middle, most, flags))


def last(inside: Flags) -> Floats:
    """The radius (ANGLES,) at which each row (ANGLES, R) is left for good, 0 if never entered."""
    from_end = np.argmax(inside[:, ::-1], axis=1)
    return np.where(inside.any(axis=1), inside.shape[1] - from_end, 0).astype(np.float64)


def first_left(inside: Flags, start: Floats) -> Floats:
    """The radius (ANGLES,) at which each row is first left, counted from ``start`` on."""
    steps = np.arange(inside.shape[1])
    out = ~inside & (steps[None, :] >= start[:, None])
    return np.where(out.any(axis=1), np.argmax(out, axis=1), inside.shape[1]).astype(np.float64)


def at_angle(values: Floats, bins: Floats) -> Floats:
    """Values (N,) of values by angle (ANGLES,), linear between whole angles."""
    low = np.floor(bins).astype(int)
    share = bins - low
    return values[low % ANGLES] * (1.0 - share) + values[(low + 1) % ANGLES] * share


def filled_around(values: Floats, known: Flags, sigma: float) -> Floats:
    """Values by angle, smoothed, where not known from those beside them."""
    weight = gaussian_filter1d(known.astype(np.float64), sigma, mode="wrap")
    sums = gaussian_filter1d(np.where(known, values, 0.0), sigma, mode="wrap")
    wide = gaussian_filter1d(known.astype(np.float64), 40.0, mode="wrap")
    sums_wide = gaussian_filter1d(np.where(known, values, 0.0), 40.0, mode="wrap")
    far = sums_wide / np.maximum(wide, 1e-9)
    share = np.clip(weight / 0.3, 0.0, 1.0)
    return np.asarray(share * sums / np.maximum(weight, 1e-9) + (1.0 - share) * far)
