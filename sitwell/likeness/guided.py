"""The guided filter: values smoothed, but for where a picture beside them has edges.

K. He, J. Sun and X. Tang, Guided Image Filtering, IEEE Transactions on Pattern Analysis and Machine
Intelligence 35 (6), 2013, equations 5, 6 and 8, with a grey guide.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]


def guided(values: Singles, guide: Singles, radius_px: int, least: float) -> Singles:
    """Values (H, W) that are a straight function of the ``guide`` (H, W) around each pixel.

    Where the guide's variance within ``radius_px`` is well below ``least`` they are the mean there.
    """
    mine, its = _mean(values, radius_px), _mean(guide, radius_px)
    both, square = _mean(values * guide, radius_px), _mean(guide * guide, radius_px)
    slope = (both - mine * its) / (square - its * its + least)
    return np.asarray(_mean(slope, radius_px) * guide + _mean(mine - slope * its, radius_px))


def _mean(values: NDArray[np.floating], radius_px: int) -> Singles:
    side = 2 * radius_px + 1
    means = cv2.boxFilter(values, -1, (side, side), borderType=cv2.BORDER_REFLECT)
    return np.asarray(means, dtype=np.float32)
