"""The small net of our own, run by OpenCV on a crop and on its mirror image."""

import threading
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr
from sitwell.face.landmarks import Pixels

Maps = NDArray[np.float32]

_LOCK = threading.Lock()  # a net serves one thread at a time


OUTPUTS = ("scores", "points", "judged")


def look_twice(path: Path, picture: Pixels) -> tuple[Maps, Maps, Maps]:
    """Each of ``OUTPUTS`` (2, ...) of the net in this file for a crop (H, W, 3) and its mirror.

    HeadError if the file can't be read.
    """
    both = np.stack([picture, picture[:, ::-1]]).astype(np.float32) / np.float32(255.0)
    with _LOCK:
        net = _net(path)
        net.setInput(np.ascontiguousarray(both.transpose(0, 3, 1, 2)))
        scores, points, judged = (np.array(m, np.float32) for m in net.forward(list(OUTPUTS)))
        return scores, points, judged


@cache
def _net(path: Path) -> Any:
    import cv2

    try:
        return cv2.dnn.readNetFromONNX(str(path))
    except cv2.error as error:
        raise HeadError(
            tr("The net {file} can't be read; install sitwell again.", file=path.name)
        ) from error
