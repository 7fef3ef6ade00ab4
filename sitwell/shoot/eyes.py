"""What one frame shows of the eyes: how far the lids are open, and where the eyes look.

Landmark numbers are those of the landmark library's face mesh.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.face.landmarks import FaceReading

# Beyond this the far eye's lids are seen from the side.
FAR_EYE_HIDDEN_DEG = 40.0
LIDS = {  # the pairs of upper and lower lid, then the corners, of Soukupova and Cech 2016
    "own_right": ((160, 144), (158, 153), (33, 133)),
    "own_left": ((385, 380), (387, 373), (362, 263)),
}
EYE_OUTLINE = {
    "own_right": (33, 160, 159, 158, 133, 153, 145, 144),
    "own_left": (362, 385, 386, 387, 263, 373, 374, 380),
}
OTHER = {"own_left": "own_right", "own_right": "own_left"}
_IRIS = {"own_right": 468, "own_left": 473}
# In breadths of an eye, corner to corner: how far the eyeball's middle lies behind the corners,
# and how far the iris stands before it. Fitted on rendered heads (ours turn about the same point).
_MIDDLE_BEHIND, _IRIS_BEFORE = 0.27, 0.36
# The iris marks follow a raised or lowered gaze only half way, as seen on rendered heads.
_UP_FOLLOWS = 0.5

Points = NDArray[np.float64]


def eye_breadth_px(face: FaceReading) -> float:
    """From outer corner to outer corner in full-size pixels, in depth as well, so turned or not."""
    return float(np.linalg.norm(_solid(face, 33) - _solid(face, 263)))


def eye_open(face: FaceReading, turn_deg: float, near: str) -> dict[str, float]:
    """The lids' gap over the breadth of both eyes, by own side; nan for a far eye out of view."""
    breadth_px = eye_breadth_px(face)
    openings = {
        side: float(
            np.mean([np.linalg.norm(_solid(face, a) - _solid(face, b)) for a, b in lids[:2]])
        )
        / breadth_px
        for side, lids in LIDS.items()
    }
    if abs(turn_deg) > FAR_EYE_HIDDEN_DEG:
        openings[OTHER[near]] = math.nan
    return openings


def gaze_deg(face: FaceReading, near: str) -> tuple[float, float]:
    """Where the near eye looks against the lens: degrees to camera right, and up.

    An eye that looks into the lens has its iris before the middle of its ball. Where that middle
    lies differs by face, so only differences to the sitter's own usual mean anything.
    """
    inner, outer = (_solid(face, mark) for mark in LIDS[near][2])
    breadth = float(np.linalg.norm(inner - outer))
    ahead = face.matrix[:3, 2] / np.linalg.norm(face.matrix[:3, 2])
    forward = ahead[:2] * (1.0, -1.0)  # as the face points, in the picture's x right and y down
    middle = (inner + outer)[:2] / 2 - _MIDDLE_BEHIND * breadth * forward
    aside = (face.landmarks_px[_IRIS[near]] - middle) / (_IRIS_BEFORE * breadth)
    across, up = np.degrees(np.arcsin(np.clip(aside * (1.0, -1.0 / _UP_FOLLOWS), -1.0, 1.0)))
    return float(across), float(up)


def _solid(face: FaceReading, mark: int) -> Points:
    return np.append(face.landmarks_px[mark], face.depth_px[mark])
