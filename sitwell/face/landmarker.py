"""478 landmarks of each face in a picture, by the nets of the landmark model's bundle.

The steps, their numbers and names are options of the public graphs google-ai-edge/mediapipe,
tasks/cc/vision/face_landmarker/{face_landmarker,face_landmarks_detector,face_blendshapes}_graph.cc
(read 2026-11). Nothing is smoothed or followed from picture to picture. Tests hold places,
expressions and pose against that library.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.face.bundle import EXPRESSION, LANDMARKS, run_net
from sitwell.face.canonical import pose_matrix
from sitwell.face.detector import detect
from sitwell.face.region import Region

Pixels = NDArray[np.uint8]
Array = NDArray[np.float64]

_SIDE_PX = 256
_PRESENCE_LOGIT = 0.0  # an even chance
_MOST_FACES = 8
# The landmarks that tell the expression, in the order in which the net takes them.
_EXPRESSIVE = (
    0, 1, *range(4, 9), 10, 13, 14, 17, 21, 33, 37, 39, 40, 46, *range(52, 56), 58, 61, 63, 65, 66,
    67, 70, 78, *range(80, 83), 84, 87, 88, 91, 93, 95, 103, 105, 107, 109, 127, 132, 133, 136,
    *range(144, 147), *range(148, 151), *range(152, 156), *range(157, 164), 168, 172, 173, 176, 178,
    181, 185, 191, 195, 197, 234, 246, 249, 251, 263, 267, 269, 270, 276, *range(282, 286), 288,
    291, 293, *range(295, 298), 300, 308, 310, 311, 312, 314, 317, 318, 321, 323, 324, 332, 334,
    336, 338, 356, 361, 362, 365, *range(373, 376), *range(377, 383), *range(384, 391), 397, 398,
    400, 402, 405, 409, 415, 454, 466, *range(468, 478),
)  # fmt: skip
_NAMES = (
    "_neutral", "browDownLeft", "browDownRight", "browInnerUp", "browOuterUpLeft",
    "browOuterUpRight", "cheekPuff", "cheekSquintLeft", "cheekSquintRight", "eyeBlinkLeft",
    "eyeBlinkRight", "eyeLookDownLeft", "eyeLookDownRight", "eyeLookInLeft", "eyeLookInRight",
    "eyeLookOutLeft", "eyeLookOutRight", "eyeLookUpLeft", "eyeLookUpRight", "eyeSquintLeft",
    "eyeSquintRight", "eyeWideLeft", "eyeWideRight", "jawForward", "jawLeft", "jawOpen", "jawRight",
    "mouthClose", "mouthDimpleLeft", "mouthDimpleRight", "mouthFrownLeft", "mouthFrownRight",
    "mouthFunnel", "mouthLeft", "mouthLowerDownLeft", "mouthLowerDownRight", "mouthPressLeft",
    "mouthPressRight", "mouthPucker", "mouthRight", "mouthRollLower", "mouthRollUpper",
    "mouthShrugLower", "mouthShrugUpper", "mouthSmileLeft", "mouthSmileRight", "mouthStretchLeft",
    "mouthStretchRight", "mouthUpperUpLeft", "mouthUpperUpRight", "noseSneerLeft", "noseSneerRight",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceSeen:
    """One face in a picture: landmarks (478, 2) and their depth (478,) in its pixels.

    ``blendshapes`` are guesses at its expression, 0..1; ``matrix`` (4, 4) is the pose as
    ``canonical.pose_matrix`` tells it.
    """

    landmarks_px: Array
    depth_px: Array
    blendshapes: Mapping[str, float]
    matrix: Array


def see_faces(rgb: Pixels) -> list[FaceSeen]:
    """The faces in a picture (h, w, 3), at most eight, the surest first."""
    seen = (_seen(rgb, detection.region()) for detection in detect(rgb)[:_MOST_FACES])
    return [face for face in seen if face is not None]


def _seen(rgb: Pixels, region: Region) -> FaceSeen | None:
    """The face in a region; None if the net denies that there is one."""
    given = region.sampled(rgb, _SIDE_PX).astype(np.float32) / np.float32(255.0)
    marks, presence = run_net(LANDMARKS, given, ("Identity", "Identity_1"))
    if presence.item() <= _PRESENCE_LOGIT:
        return None
    shares = marks.reshape(-1, 3).astype(np.float64) / _SIDE_PX
    height, width = rgb.shape[:2]
    places = region.to_picture(shares[:, :2])
    # depth goes by the length of the upper edge in shares of the picture, as the graph has it
    depth = shares[:, 2] * width * float(np.linalg.norm(region.axes_px[0] / (width, height)))
    return FaceSeen(
        landmarks_px=places,
        depth_px=depth,
        blendshapes=_expression(places),
        matrix=pose_matrix(places, depth, width, height),
    )


def _expression(landmarks_px: Array) -> dict[str, float]:
    given = landmarks_px[list(_EXPRESSIVE)].astype(np.float32)
    (scores,) = run_net(EXPRESSION, given, ("StatefulPartitionedCall:0",))
    return dict(zip(_NAMES, scores.reshape(-1).tolist(), strict=True))
