"""The landmark model run by its makers' own library, which the landmarks are held against.

Not needed at run time: ``python3 run test`` brings it by ``requirements/reference.txt``, without
what it asks for besides, since that is another build of OpenCV and a plotting library.
"""

import sys
from collections.abc import Callable
from functools import cache
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.face.landmarker import FaceSeen
from sitwell.face.model import model_path

Pixels = NDArray[np.uint8]

_MOST_FACES = 8
_PLOTTING = ("matplotlib", "matplotlib.pyplot")


@cache
def reference_landmarker() -> Callable[[Pixels], list[FaceSeen]]:
    """What sees the faces of a picture (h, w, 3) as ``see_faces`` does; ImportError without it."""
    library, base_options, vision = _library()
    task = vision.FaceLandmarker.create_from_options(
        vision.FaceLandmarkerOptions(
            base_options=base_options(model_asset_path=str(model_path())),
            num_faces=_MOST_FACES,
            output_face_blendshapes=True,
            output_facial_transformation_matrixes=True,
        )
    )
    task.__class__ = _unclosed(type(task))

    def see(rgb: Pixels) -> list[FaceSeen]:
        picture = np.ascontiguousarray(rgb)
        return _faces(
            task.detect(library.Image(image_format=library.ImageFormat.SRGB, data=picture)),
            rgb.shape[1],
            rgb.shape[0],
        )

    return see


def _unclosed(kind: Any) -> Any:
    """The task's class without its closing, which fails at the process's end, and says so."""

    class Unclosed(kind):
        def __del__(self) -> None:
            pass

    return Unclosed


def _faces(result: Any, width: int, height: int) -> list[FaceSeen]:
    faces = []
    for marks, shapes, matrix in zip(
        result.face_landmarks,
        result.face_blendshapes,
        result.facial_transformation_matrixes,
        strict=True,
    ):
        xyz = np.array([(m.x, m.y, m.z) for m in marks]) * (width, height, width)
        faces.append(
            FaceSeen(
                landmarks_px=xyz[:, :2],
                depth_px=xyz[:, 2],
                blendshapes={s.category_name: float(s.score) for s in shapes},
                matrix=np.asarray(matrix, dtype=np.float64),
            )
        )
    return faces


def _library() -> tuple[Any, Any, Any]:
    """The library; where no plotting is installed, an empty stand-in satisfies its import."""
    stands_in = {name: ModuleType(name) for name in _PLOTTING if name not in sys.modules}
    for name, module in stands_in.items():
        sys.modules[name] = module
    try:
        import mediapipe
        from mediapipe.tasks.python import BaseOptions, vision
    finally:
        for name in stands_in:
            del sys.modules[name]
    return mediapipe, BaseOptions, vision
