"""The landmark model's bundle: three small nets, run by OpenCV, and a few numbers beside them."""

import threading
import zipfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import ModelError
from sitwell.base.words import tr
from sitwell.face.model import model_path

Values = NDArray[np.float32]

FINDER = "face_detector.tflite"
LANDMARKS = "face_landmarks_detector.tflite"
EXPRESSION = "face_blendshapes.tflite"
CANONICAL = "geometry_pipeline_metadata_landmarks.binarypb"

_LOCK = threading.Lock()  # a net serves one thread at a time


def run_net(name: str, given: Values, outputs: tuple[str, ...]) -> list[Values]:
    """These outputs of the bundle's net ``name`` for a picture (h, w, 3) or rows (n, m).

    ModelError when the bundle is missing or can't be read.
    """
    path = model_path()
    given = np.ascontiguousarray((given.transpose(2, 0, 1) if given.ndim == 3 else given)[None])
    with _LOCK:
        net = _net(path, name)
        net.setInput(given)
        return [np.array(each, np.float32) for each in net.forward(list(outputs))]


def member(name: str) -> bytes:
    """One file of the bundle, whole."""
    return _member(model_path(), name)


def _member(path: Path, name: str) -> bytes:
    with zipfile.ZipFile(path) as bundle:
        return bundle.read(name)


@cache
def _net(path: Path, name: str) -> Any:
    import cv2

    try:
        return cv2.dnn.readNetFromTFLite(np.frombuffer(_member(path, name), np.uint8))
    except cv2.error as error:
        raise ModelError(
            tr(
                "The net {name} in the landmark model can't be read by this OpenCV; install "
                "sitwell again.",
                name=name,
            )
        ) from error
