"""Frames of a film that show a sitter's head best: sharp, eyes open, in poses that differ."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import FaceError, PhotoError
from sitwell.base.words import mark, tr
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.brief.photos import Photo
from sitwell.face.clip import Clip, frames_of
from sitwell.face.landmarks import LANDMARK_SIDE_PX, FaceReading, find_faces
from sitwell.face.lids import eye_detail
from sitwell.face.shrink import halve
from sitwell.head.differing_frames import most_unlike
from sitwell.head.pose import Sighting, rough_pose
from sitwell.head.usable import why_left_out

MOST_LOOKED_AT = 60
# Two frames whose heads are turned by less than this show the same.
_APART_DEG = 8.0
_LOOKING = mark("looking through the film")

Pixels = NDArray[np.uint8]
Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """One frame of a film: its number, when it is shown, and the pose (turn, chin) roughly."""

    number: int
    second: float
    turn_deg: float
    chin_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    still: Still
    face: FaceReading
    sharpness: float


def choose_stills(clip: Clip, most: int, progress: Progress) -> list[Still]:
    """At most ``most`` frames, in the order of the film: the squarest, then the most unlike.

    FaceError where no frame shows a face, PhotoError where no frame can be read at all.
    """
    numbers = np.unique(np.linspace(0, clip.frames - 1, MOST_LOOKED_AT).round().astype(int))
    seen, looked = [], 0
    for number, rgb in frames_of(clip, numbers.tolist()):
        looked += 1
        progress(looked / len(numbers), _LOOKING)
        found = _look(clip, number, rgb)
        seen += [] if found is None else [found]
    if looked == 0:
        raise PhotoError(
            tr("No frame of '{file}' can be read; give an MP4 or MOV file.", file=clip.path.name)
        )
    if not seen:
        raise FaceError(
            tr("No face was found in '{file}'; film closer, face to the lens.", file=clip.path.name)
        )
    reasons = why_left_out(
        [each.face.blendshapes for each in seen], [each.sharpness for each in seen]
    )
    good = [each for each, reason in zip(seen, reasons, strict=True) if reason is None]
    return sorted(_unlike(good, most), key=lambda still: still.number)


def _look(clip: Clip, number: int, rgb: Pixels) -> _Seen | None:
    while max(rgb.shape[:2]) >= 2 * LANDMARK_SIDE_PX:
        rgb = halve(rgb)
    height, width = rgb.shape[:2]
    focal = find_focal(ExifFacts(), width, height)
    photo = Photo(
        path=clip.path, rgb=rgb, width_px=width, height_px=height, facts=ExifFacts(), focal=focal
    )
    face = max(find_faces(photo), key=lambda each: each.side_px, default=None)
    if face is None:
        return None
    sighting = Sighting(
        landmarks_px=face.landmarks_px, centre_px=np.array([width, height]) / 2.0, focal=focal
    )
    turn_deg, chin_deg, _ = rough_pose(sighting).seen_deg
    still = Still(
        number=number,
        second=number / clip.frames_per_second,
        turn_deg=turn_deg,
        chin_deg=chin_deg,
    )
    return _Seen(still=still, face=face, sharpness=eye_detail(rgb, face.landmarks_px))


def _unlike(seen: Sequence[_Seen], most: int) -> list[Still]:
    """The most unlike; of frames that show the same the sharpest."""
    poses = np.array([(each.still.turn_deg, each.still.chin_deg) for each in seen])
    sharp = np.array([each.sharpness for each in seen])

    def sharpest_near(index: int) -> int:
        near = np.linalg.norm(poses - poses[index], axis=1) < _APART_DEG / 2.0
        return int(np.flatnonzero(near)[np.argmax(sharp[near])])

    taken = most_unlike(poses, most, apart_deg=_APART_DEG, instead=sharpest_near)
    return [seen[index].still for index in taken]
