"""Faces in a photograph: 478 landmarks each, and how closed, squinted or smiling they are.

A face is found first and then read in a square crop of standard size and place, because the
landmarks shift by a hundredth of the face with the size it is found at.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sitwell.brief.photos import Photo
from sitwell.face.finder import Spot, find_spots, shared_of_smaller
from sitwell.face.landmarker import FaceSeen, see_faces
from sitwell.face.mirror import other_side, partners
from sitwell.face.shrink import halve

# Enough for the finder and, at a face of a quarter of the frame, for the landmarks too.
LANDMARK_SIDE_PX = 1280
_CROP_PX = 384
# Crops about a face in its own sizes, the usual one first. Where nothing is seen in it, as happens
# with faces turned far away, the next is tried, then the whole picture, then the same in a mirror.
_CROPS_PER_FACE = (2.0, 1.5, 3.0)
# Below this many pixels a face is looked at again in the full-size picture.
_FINE_FACE_PX = 170

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
    spots = sorted(find_spots(photo.rgb), key=lambda spot: -spot.side_px)[:max_faces]
    smallest_px = min((spot.side_px for spot in spots), default=np.inf)
    if scale > 1.0 and smallest_px < _FINE_FACE_PX:
        photo = photo.at_size(round(max(photo.rgb.shape[:2]) * 1.5 * _FINE_FACE_PX / smallest_px))
        spots = [spot.scaled(scale / photo.px_per_rgb_px) for spot in spots]
        scale = photo.px_per_rgb_px
    seen = (_look_closer(photo.rgb, spot) for spot in spots)
    faces = [_scaled(face, scale) for face in seen if face is not None]
    return tuple(sorted(faces, key=lambda face: face.box_px[0] + face.box_px[2]))


def _look_closer(rgb: Pixels, spot: Spot) -> FaceReading | None:
    """The face at a spot, in square crops with the spot in the middle; None if it is none."""
    whole = (0, 0, rgb.shape[1], rgb.shape[0])
    crops = [(_crop_box(spot, size), _CROP_PX) for size in _CROPS_PER_FACE]
    for box, side_px in (*crops, (whole, 0)):
        face = _at(spot, _look(rgb, box, side_px))
        if face is not None:
            return face
    for box, side_px in crops:
        face = _at(spot, _look(rgb, box, side_px, in_mirror=True))
        if face is not None:
            return face
    return None


def _crop_box(spot: Spot, size: float) -> Box:
    half = size * spot.side_px / 2
    low = np.round(np.array([spot.x_px, spot.y_px]) - half).astype(int)
    return int(low[0]), int(low[1]), int(low[0] + round(2 * half)), int(low[1] + round(2 * half))


def _mirrored(face: FaceReading, box: Box) -> FaceReading:
    """A face that was seen in a box's mirror image, as it is."""
    order, flip = partners(), np.diag([-1.0, 1.0, 1.0, 1.0])
    places = face.landmarks_px[order] * (-1.0, 1.0) + (box[0] + box[2], 0.0)
    return FaceReading(
        landmarks_px=places,
        depth_px=face.depth_px[order],
        blendshapes={other_side(name): value for name, value in face.blendshapes.items()},
        matrix=flip @ face.matrix @ flip,
    )


def _at(spot: Spot, faces: list[FaceReading]) -> FaceReading | None:
    here = [face for face in faces if shared_of_smaller(face.box_px, spot.box_px) > 0.5]
    return min(here, key=lambda face: abs(face.side_px - spot.side_px), default=None)


def _look(rgb: Pixels, box: Box, side_px: int = 0, *, in_mirror: bool = False) -> list[FaceReading]:
    """Run the landmarker on a box of the picture, brought to ``side_px`` when that is given."""
    piece = _cut(rgb, box)
    if side_px:
        piece, box = _brought_near(piece, box, side_px)
        sized = Image.fromarray(piece).resize((side_px, side_px), Image.Resampling.BILINEAR)
        piece = np.asarray(sized)
    if in_mirror:
        piece = np.ascontiguousarray(piece[:, ::-1])
    faces = [_placed(face, piece, box) for face in see_faces(piece)]
    return [_mirrored(face, box) for face in faces] if in_mirror else faces


def _brought_near(piece: Pixels, box: Box, side_px: int) -> tuple[Pixels, Box]:
    """The piece at once to twice the wanted side, quickly; and the box that it now covers."""
    factor = 1
    while min(piece.shape[:2]) >= 2 * side_px:
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


def _placed(face: FaceSeen, piece: Pixels, box: Box) -> FaceReading:
    """What was seen in a piece, where it lies in the picture that the piece's box is of."""
    left, top, right, bottom = box
    scale = np.array([right - left, bottom - top]) / piece.shape[1::-1]
    return FaceReading(
        landmarks_px=face.landmarks_px * scale + (left, top),
        depth_px=face.depth_px * scale[0],
        blendshapes=face.blendshapes,
        matrix=face.matrix,
    )


def _scaled(face: FaceReading, scale: float) -> FaceReading:
    return FaceReading(
        landmarks_px=face.landmarks_px * scale,
        depth_px=face.depth_px * scale,
        blendshapes=face.blendshapes,
        matrix=face.matrix,
    )
