"""Faces in a photograph: 478 landmarks each, and how closed, squinted or smiling they are.

The only module that imports the landmark library. Every face is looked at twice: once to find it
(in the whole picture, then in overlapping tiles when the faces are small), and once in a square
crop of standard size and place, because the landmarks shift by a hundredth of the face with the
size it is found at.
"""

import contextlib
import os
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sitwell.brief.photos import Photo
from sitwell.face.model import model_path
from sitwell.face.shrink import halve

LANDMARKS = 478
# Enough for the finder and, at a face of a quarter of the frame, for the landmarks too.
LANDMARK_SIDE_PX = 1280
_CROP_PX = 384
_CROP_PER_FACE = 2.0
# Below this many pixels a face is looked at again in the full-size picture.
_FINE_FACE_PX = 170
# The finder sees faces from about a quarter of its picture's side.
_SMALL_FACE_SHARE = 0.3
_TILE_SHARES = (0.5, 0.28)
_SAME_FACE_OVERLAP = 0.3
_MOST_FACES_IN_A_LOOK = 8

Points = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Box = tuple[int, int, int, int]  # left, top, right, bottom


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceReading:
    """One face: ``landmarks_px`` (478, 2), x right and y down in full-size upright pixels.

    ``depth_px`` (478,) is the landmarker's own depth guess, smaller nearer the camera;
    ``blendshapes`` are its expression guesses, 0..1, by its own names, where Left is the sitter's
    own left; ``matrix`` (4, 4) is its own pose guess.
    """

    landmarks_px: Points
    depth_px: Points
    blendshapes: Mapping[str, float]
    matrix: Points

    @property
    def box_px(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the landmarks in full-size pixels."""
        low, high = self.landmarks_px.min(axis=0), self.landmarks_px.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def side_px(self) -> float:
        """The longer side of the box."""
        left, top, right, bottom = self.box_px
        return max(right - left, bottom - top)


def find_faces(photo: Photo, max_faces: int = 4) -> tuple[FaceReading, ...]:
    """The largest faces in a photograph, at most ``max_faces``, from camera left to right."""
    scale = photo.px_per_rgb_px
    rough = _find_rough(photo.rgb)
    rough = sorted(rough, key=lambda face: -face.side_px)[:max_faces]
    smallest_px = min((face.side_px for face in rough), default=np.inf)
    if scale > 1.0 and smallest_px < _FINE_FACE_PX:
        photo = photo.at_size(round(max(photo.rgb.shape[:2]) * 1.5 * _FINE_FACE_PX / smallest_px))
        rough = [_scaled(face, scale / photo.px_per_rgb_px) for face in rough]
        scale = photo.px_per_rgb_px
    faces = [_scaled(_look_closer(photo.rgb, face), scale) for face in rough]
    return tuple(sorted(faces, key=lambda face: face.box_px[0] + face.box_px[2]))


def _find_rough(rgb: Pixels) -> list[FaceReading]:
    faces = _look(rgb, (0, 0, rgb.shape[1], rgb.shape[0]))
    short = min(rgb.shape[:2])
    for share in _TILE_SHARES:
        if faces and max(face.side_px for face in faces) > _SMALL_FACE_SHARE * short:
            break
        side = round(share * short)
        if side < 96:
            break
        for box in _tiles(rgb.shape[1], rgb.shape[0], side):
            faces = _merge(faces, _look(rgb, box))
        if faces:
            break
    return faces


def _tiles(width: int, height: int, side: int) -> Iterator[Box]:
    """Squares that cover the picture and overlap by half."""
    for top in _starts(height, side):
        for left in _starts(width, side):
            yield left, top, left + side, top + side


def _starts(length: int, side: int) -> list[int]:
    count = max(1, int(np.ceil((length - side) / (side / 2)))) + 1
    return sorted({round(s) for s in np.linspace(0, length - side, count)})


def _merge(known: list[FaceReading], new: list[FaceReading]) -> list[FaceReading]:
    kept = list(known)
    for face in new:
        if all(_overlap(face, other) < _SAME_FACE_OVERLAP for other in kept):
            kept.append(face)
    return kept


def _overlap(first: FaceReading, second: FaceReading) -> float:
    """Shared area over the smaller box's area."""
    a, b = np.array(first.box_px), np.array(second.box_px)
    shared = np.clip(np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2]), 0, None).prod()
    smaller = min((a[2:] - a[:2]).prod(), (b[2:] - b[:2]).prod())
    return float(shared / max(smaller, 1.0))


def _look_closer(rgb: Pixels, rough: FaceReading) -> FaceReading:
    """The same face again, in a square crop with the face in the middle of it."""
    left, top, right, bottom = rough.box_px
    half = _CROP_PER_FACE * rough.side_px / 2
    centre = np.array([(left + right) / 2, (top + bottom) / 2])
    low = np.round(centre - half).astype(int)
    box = (int(low[0]), int(low[1]), int(low[0] + round(2 * half)), int(low[1] + round(2 * half)))
    seen = [face for face in _look(rgb, box, _CROP_PX) if _overlap(face, rough) > 0.5]
    return min(seen, key=lambda f: abs(f.side_px - rough.side_px), default=rough)


def _look(rgb: Pixels, box: Box, side_px: int = 0) -> list[FaceReading]:
    """Run the landmarker on a box of the picture, brought to ``side_px`` when that is given."""
    import mediapipe

    piece = _cut(rgb, box)
    if side_px:
        piece, box = _brought_near(piece, box, side_px)
        sized = Image.fromarray(piece).resize((side_px, side_px), Image.Resampling.BILINEAR)
        piece = np.asarray(sized)
    image = mediapipe.Image(
        image_format=mediapipe.ImageFormat.SRGB, data=np.ascontiguousarray(piece)
    )
    with _LOCK:
        result = _landmarker().detect(image)
    return _readings(result, box)


def _brought_near(piece: Pixels, box: Box, side_px: int) -> tuple[Pixels, Box]:
    """The piece at two to four times the wanted side, quickly; and the box that it now covers."""
    factor = 1
    while min(piece.shape[:2]) >= 4 * side_px:
        piece, factor = halve(piece), 2 * factor
    left, top = box[:2]
    return piece, (left, top, left + factor * piece.shape[1], top + factor * piece.shape[0])


def _cut(rgb: Pixels, box: Box) -> Pixels:
    """The box out of the picture; where it reaches beyond, the edge's pixels go on."""
    left, top, right, bottom = box
    height, width = rgb.shape[:2]
    piece = rgb[max(top, 0) : min(bottom, height), max(left, 0) : min(right, width)]
    beyond = (
        (max(-top, 0), max(bottom - height, 0)),
        (max(-left, 0), max(right - width, 0)),
        (0, 0),
    )
    return np.pad(piece, beyond, mode="edge") if any(map(any, beyond)) else piece


def _readings(result: Any, box: Box) -> list[FaceReading]:
    left, top, right, bottom = box
    size = np.array([right - left, bottom - top, right - left], dtype=np.float64)
    faces = []
    for marks, shapes, matrix in zip(
        result.face_landmarks,
        result.face_blendshapes,
        result.facial_transformation_matrixes,
        strict=True,
    ):
        xyz = np.array([(m.x, m.y, m.z) for m in marks], dtype=np.float64) * size
        faces.append(
            FaceReading(
                landmarks_px=xyz[:, :2] + (left, top),
                depth_px=xyz[:, 2],
                blendshapes={s.category_name: float(s.score) for s in shapes},
                matrix=np.asarray(matrix, dtype=np.float64),
            )
        )
    return faces


def _scaled(face: FaceReading, scale: float) -> FaceReading:
    return FaceReading(
        landmarks_px=face.landmarks_px * scale,
        depth_px=face.depth_px * scale,
        blendshapes=face.blendshapes,
        matrix=face.matrix,
    )


_LOCK = threading.Lock()


@cache
def _landmarker() -> Any:
    from mediapipe.tasks.python import BaseOptions, vision

    options = vision.FaceLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(model_path())),
        num_faces=_MOST_FACES_IN_A_LOOK,
        output_face_blendshapes=True,
        output_facial_transformation_matrixes=True,
    )

    class Unclosed(vision.FaceLandmarker):
        """Left to the end of the process: closing it by then fails and says so."""

        def __del__(self) -> None:
            pass

    with _quiet_stderr():
        landmarker = vision.FaceLandmarker.create_from_options(options)
    landmarker.__class__ = Unclosed
    return landmarker


@contextlib.contextmanager
def _quiet_stderr() -> Iterator[None]:
    """Keep the library's start-up chatter, which it writes below Python, off the terminal."""
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
