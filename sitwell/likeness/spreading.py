"""Carrying values from where they are known to where they are not."""

import cv2
import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]

LEAST_PX = 6  # of a coarser picture's sides
NEXT_TO_NOTHING = 1e-4


def spread(values: Singles, weight: NDArray[np.floating], reach_px: float) -> Singles:
    """Values (H, W, C), where they have no ``weight`` (H, W) those of the nearest that have.

    Each is the mean over ``reach_px``, from as coarse a picture as it takes to find any.
    """
    total = weight.astype(np.float32)
    known = values * total[..., None]
    levels = [(known, total)]
    while min(total.shape) > 2 * LEAST_PX:
        known, total = _halved(known).reshape(*_half(total), -1), _halved(total)
        levels.append((known, total))
    everywhere = float(max(total.sum(), NEXT_TO_NOTHING))
    found = np.broadcast_to(known.sum(axis=(0, 1)) / everywhere, known.shape).astype(np.float32)
    for known, total in reversed(levels):
        size = (total.shape[1], total.shape[0])
        larger = cv2.resize(found, size, interpolation=cv2.INTER_LINEAR)
        found = np.array(larger, dtype=np.float32).reshape(*total.shape, -1)
        sigma = min(reach_px, 2.0)
        mine = np.asarray(cv2.GaussianBlur(known, (0, 0), sigma)).reshape(*total.shape, -1)
        much = np.asarray(cv2.GaussianBlur(total, (0, 0), sigma))[..., None]
        share = np.clip(much / 0.2, 0.0, 1.0)
        found += share * (mine / np.maximum(much, NEXT_TO_NOTHING) - found)
    return np.asarray(found, dtype=np.float32)


def _half(picture: Singles) -> tuple[int, int]:
    return -(-picture.shape[0] // 2), -(-picture.shape[1] // 2)


def _halved(picture: Singles) -> Singles:
    size = _half(picture)[::-1]
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
