"""The whole reading: photographs in, head, pose and light out."""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sitwell.base.errors import FaceError, PhotoError
from sitwell.base.words import joined, mark, number, tr
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import Focal
from sitwell.brief.in_the_way import told_and_denied
from sitwell.brief.marks import Mark, Marks, check_marks
from sitwell.brief.photos import Photo, open_photo
from sitwell.face.choice import choose_face
from sitwell.face.landmarks import LANDMARK_SIDE_PX, FaceReading, find_faces
from sitwell.face.lids import eye_detail, find_lids
from sitwell.head.fit import Fit, FittedFrame
from sitwell.head.next_frame import NextFrame
from sitwell.head.obscured import hides_lids
from sitwell.head.pose import HeadPose, Sighting
from sitwell.head.problem import MEAN_IPD_MM
from sitwell.head.seen_features import (
    look_for_parts,
    marked_in,
    marks_beside,
    notes_on_ears,
    notes_on_eyes,
    notes_on_hairline,
    notes_on_things,
    with_covered_ears,
    without_denied,
)
from sitwell.head.seen_lids import lid_marks
from sitwell.head.seen_parts import Found
from sitwell.head.shading import LightReading, read_light
from sitwell.head.sitter import fit_sitter
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.head.unroll import FacePicture
from sitwell.head.zero import levelled

# Light is read from, and skin followed on, a face of about this many pixels, and a margin.
_SKIN_FACE_PX = 220
_SKIN_MARGIN = 0.6
_ONE_UNLIKE = mark(
    "The face in {files} looks unlike the one in the other frames; is it the same person? Frames "
    "of two people give a head that is nobody's."
)
_TWO_UNLIKE = mark(
    "The faces in {files} look unlike each other; are both the same person? Frames of two people "
    "give a head that is nobody's."
)
# Lids and points are measured in a picture that shows the face this large, if the file has it.
_LEAST_FACE_PX = 400
_SMALL_FACE_PX = 100  # below it lids and lips are a few pixels (design choice)

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameReading:
    """What one photograph shows; what follows ``faces`` is None where no face was read.

    ``neutral`` (3, 3) is the sitter's own level pose in the head frame (the identity without a
    level frame): angles count from it. ``lids`` are the lid edges that were measured in the
    picture, ``found`` is what it shows of ears and things in the way, ``obscured`` what
    is in the way, told or seen; ``left_out`` is why the frame did not shape the head.
    ``boxes_px`` are left, top, right and bottom of every face in it, from camera left.
    """

    file: str
    faces: int
    boxes_px: tuple[tuple[float, float, float, float], ...] = ()
    path: Path | None = None
    notes: tuple[str, ...] = ()
    size_px: tuple[int, int] | None = None
    facts: ExifFacts | None = None
    focal: Focal | None = None
    face: FaceReading | None = field(default=None, repr=False)
    fitted: FittedFrame | None = field(default=None, repr=False)
    light: LightReading | None = None
    neutral: Array = field(default_factory=lambda: np.eye(3))
    lids: tuple[Mark, ...] = ()
    found: Found = field(default_factory=Found, repr=False)
    obscured: frozenset[str] = frozenset()
    left_out: str | None = None

    @property
    def pose(self) -> HeadPose | None:
        """The head's pose before the camera, counted from the sitter's own level pose."""
        if self.fitted is None:
            return None
        pose = self.fitted.pose
        return HeadPose(rotation=pose.rotation @ self.neutral.T, place_mm=pose.place_mm)

    @property
    def sighting(self) -> Sighting | None:
        """The frame as a fit takes it, with the lid edges as its only marks."""
        if self.face is None or self.focal is None or self.size_px is None:
            return None
        return Sighting(
            landmarks_px=self.face.landmarks_px,
            centre_px=np.array(self.size_px) / 2.0,
            focal=self.focal,
            blendshapes=self.face.blendshapes,
            marks=self.lids,
            obscured=self.obscured,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One sitter's photographs, read together; ``fit`` is None where no face was read.

    ``asks`` is what the photographer alone can say: whether frames that look unlike are one's;
    ``unlike`` names those frames.
    ``marked`` names the marks, placed or found, that spoke of the head in any frame.
    """

    frames: tuple[FrameReading, ...]
    fit: Fit | None
    notes: tuple[str, ...]
    asks: tuple[str, ...] = ()
    unlike: tuple[str, ...] = ()
    next_frame: NextFrame | None = None
    marked: frozenset[str] = frozenset()

    def require_head(self) -> Head:
        """The fitted head; FaceError with the first frame's reason where there is none."""
        if self.fit is None:
            reasons = [note for frame in self.frames for note in frame.notes]
            raise FaceError(reasons[0] if reasons else tr("No face was found; give a photograph."))
        return self.fit.head


@dataclass(frozen=True, slots=True, kw_only=True)
class _Skin:
    """The face's part of a photograph, and the detail at the eyes in it as it was opened."""

    picture: FacePicture
    sharpness: float


def read_photos(
    photos: Sequence[str | Path],
    *,
    marks: Marks | None = None,
    face: int | None = None,
    faces: Mapping[str, int] | None = None,
    level: int | None = None,
    ipd_mm: float | None = None,
    distances_mm: Sequence[float | None] | None = None,
    focal_35_mm: float | None = None,
    sensor_diagonal_mm: float | None = None,
    in_the_way: Sequence[str] = (),
    without: Sequence[str] = (),
) -> Reading:
    """Read one sitter's photographs together.

    ``face`` counts from camera left, from 1, where a frame shows several, and ``faces`` says it by
    a frame's name, which counts first; ``level`` is the place (from 0) of the frame in which the
    sitter looks straight ahead, level: angles then count from it. ``distances_mm`` are distances
    measured on the set, None where not measured. ``in_the_way`` names what hides part of the face
    in all frames (``brief/in_the_way.py``): UsageError. What the pictures show counts too, less
    what ``without`` denies; not at all if it is NOTHING alone.
    A photograph that can't be opened or shows no face gives a frame with a note; with only one
    photograph, PhotoError is raised. Marks are held against the photographs: MarksError.
    """
    told, denied = told_and_denied(in_the_way, without)
    opened = [
        _open_and_find(
            path,
            (faces or {}).get(path.name, face),
            focal_35_mm,
            sensor_diagonal_mm,
            alone=len(photos) == 1,
        )
        for path in map(Path, photos)
    ]
    frames = _with_sight([frame for frame, _ in opened], told, denied)
    skins = [skin for _, skin in opened]
    sizes = {frame.file: frame.size_px for frame in frames if frame.size_px is not None}
    notes = list(check_marks(marks or {}, sizes))
    read = [index for index, frame in enumerate(frames) if frame.face is not None]
    if not read:
        return Reading(frames=tuple(frames), fit=None, notes=tuple(notes))
    sightings = [_sighting(frames[index], marks or {}) for index in read]
    sitter = fit_sitter(
        sightings,
        ipd_mm=ipd_mm,
        distances_mm=[distances_mm[index] for index in read] if distances_mm else None,
        sharpness=[skin.sharpness if (skin := skins[index]) else 0.0 for index in read],
        pictures=[skin.picture if (skin := skins[index]) else None for index in read],
    )
    for place, index in enumerate(read):
        frame = dataclasses.replace(frames[index], focal=sitter.frames[place].focal)
        frame = _with_light(frame, sitter.frames[place], skins[index])
        frames[index] = _with_reason(frame, sitter.left_out[place])
    frames, zero_note = levelled(frames, level)
    notes += [*sitter.notes, zero_note, *_size_notes(ipd_mm, distances_mm)]
    placed = [mark for marks_of_one in (marks or {}).values() for mark in marks_of_one]
    notes += notes_on_ears([frames[index].found for index in read], placed, told)
    notes += notes_on_hairline([s.marks for s in sightings], [s.obscured for s in sightings])
    marked = marked_in(sightings)
    notes += notes_on_eyes(marked)
    if sitter.next_frame is not None:
        notes.append(sitter.next_frame.words)
    unlike = [frames[read[place]].file for place in sitter.unlike]
    asks = _asks(unlike)
    return Reading(
        frames=tuple(frames),
        fit=sitter.fit,
        notes=(*asks, *notes),
        asks=asks,
        unlike=tuple(unlike),
        next_frame=sitter.next_frame,
        marked=marked,
    )


def _asks(unlike: list[str]) -> tuple[str, ...]:
    """The question that frames which look unlike raise; nobody is accused of anything."""
    if not unlike:
        return ()
    return (tr(_TWO_UNLIKE if len(unlike) > 1 else _ONE_UNLIKE, files=joined(unlike, ", ")),)


def _open_and_find(
    path: Path,
    face: int | None,
    focal_35_mm: float | None,
    sensor_diagonal_mm: float | None,
    *,
    alone: bool,
) -> tuple[FrameReading, _Skin | None]:
    try:
        photo = open_photo(
            path,
            largest_side_px=LANDMARK_SIDE_PX,
            focal_35_mm=focal_35_mm,
            sensor_diagonal_mm=sensor_diagonal_mm,
        )
    except PhotoError as error:
        if alone:
            raise
        return FrameReading(file=path.name, faces=0, path=path, notes=(str(error),)), None
    faces = find_faces(photo)
    frame = FrameReading(
        file=path.name,
        faces=len(faces),
        boxes_px=tuple(found.box_px for found in faces),
        path=path,
        notes=photo.notes,
        size_px=(photo.width_px, photo.height_px),
        facts=photo.facts,
        focal=photo.focal,
    )
    try:
        chosen = choose_face(faces, path.name, face)
    except FaceError as error:
        return dataclasses.replace(frame, notes=(str(error), *photo.notes)), None
    notes = (*frame.notes, *_note_on_size(path.name, chosen))
    frame = dataclasses.replace(frame, face=chosen, notes=notes)
    sharp = _sharp(photo, chosen)
    frame = dataclasses.replace(frame, lids=_lids(frame, sharp, chosen))
    sighting = frame.sighting
    if sighting is not None:
        frame = dataclasses.replace(frame, found=look_for_parts(sharp, chosen, sighting))
    return frame, _skin_of(photo, chosen)


def _note_on_size(file: str, face: FaceReading) -> tuple[str, ...]:
    if face.side_px >= _SMALL_FACE_PX:
        return ()
    return (
        tr(
            "The face in '{file}' is {side} pixels across, too few to measure it well; give a "
            "larger picture, or one taken nearer.",
            file=file,
            side=round(face.side_px),
        ),
    )


def _with_sight(
    frames: list[FrameReading], told: frozenset[str], denied: frozenset[str]
) -> list[FrameReading]:
    """The frames with what is in the way: what was told, and what they show that is not denied."""
    found = with_covered_ears([without_denied(frame.found, denied) for frame in frames])
    return [
        dataclasses.replace(
            frame,
            found=each,
            obscured=told | each.things,
            notes=(*frame.notes, *notes_on_things(frame.file, each, told)),
        )
        for frame, each in zip(frames, found, strict=True)
    ]


def _sharp(photo: Photo, face: FaceReading) -> Photo:
    """The photograph with enough pixels to measure in it, if the file has them."""
    if face.side_px / photo.px_per_rgb_px < _LEAST_FACE_PX and photo.px_per_rgb_px > 1.0:
        longest = max(photo.rgb.shape[:2]) * photo.px_per_rgb_px
        return photo.at_size(round(min(longest, longest * 1.2 * _LEAST_FACE_PX / face.side_px)))
    return photo


def _lids(frame: FrameReading, photo: Photo, face: FaceReading) -> tuple[Mark, ...]:
    """Lid edges as marks."""
    sighting = frame.sighting
    if sighting is None:
        return ()
    scale = photo.px_per_rgb_px
    seen = find_lids(photo.rgb, face.landmarks_px / scale)
    return lid_marks({side: edges.scaled(scale) for side, edges in seen.items()}, sighting)


def _skin_of(photo: Photo, face: FaceReading) -> _Skin:
    """The face and a margin, so that the whole picture need not be kept in memory."""
    scale = photo.px_per_rgb_px
    left, top, right, bottom = (side / scale for side in face.box_px)
    margin = _SKIN_MARGIN * face.side_px / scale
    low_x, low_y = max(0, int(left - margin)), max(0, int(top - margin))
    piece = photo.rgb[low_y : int(bottom + margin), low_x : int(right + margin)]
    factor = max(1, int(face.side_px / scale / _SKIN_FACE_PX))
    small = Image.fromarray(piece).reduce(factor)
    return _Skin(
        picture=FacePicture(
            rgb=np.asarray(small),
            origin_px=np.array([low_x, low_y]) * scale,
            px_per_rgb_px=scale * factor,
        ),
        sharpness=eye_detail(photo.rgb, face.landmarks_px / scale),
    )


def _sighting(frame: FrameReading, marks: Marks) -> Sighting:
    sighting = frame.sighting
    if sighting is None:  # only frames with a face come here
        raise FaceError(tr("No face was read in '{file}'; leave it out.", file=frame.file))
    placed = marks.get(frame.file, ())
    named = {mark.name for mark in placed}
    lids = () if hides_lids(frame.obscured) else sighting.marks
    seen = tuple(mark for mark in lids if mark.name not in named)
    beside = marks_beside(placed, frame.found, frame.obscured)
    return dataclasses.replace(sighting, marks=(*placed, *seen, *beside))


def _with_reason(frame: FrameReading, reason: str | None) -> FrameReading:
    if reason is None:
        return frame
    note = tr("'{file}' did not shape the head: {reason}.", file=frame.file, reason=tr(reason))
    return dataclasses.replace(frame, left_out=reason, notes=(*frame.notes, note))


def _with_light(frame: FrameReading, fitted: FittedFrame, skin: _Skin | None) -> FrameReading:
    if skin is None or frame.focal is None or frame.size_px is None:
        return dataclasses.replace(frame, fitted=fitted)
    posed = head_from_values(
        load_template(), fitted.shape.astype(np.float32), fitted.expression.astype(np.float32)
    )
    picture = skin.picture
    light = read_light(
        picture.rgb,
        posed,
        fitted.pose,
        frame.focal.px_at(fitted.pose.distance_mm) / picture.px_per_rgb_px,
        (np.array(frame.size_px) / 2.0 - picture.origin_px) / picture.px_per_rgb_px,
    )
    return dataclasses.replace(frame, fitted=fitted, light=light)


def _size_notes(
    ipd_mm: float | None, distances_mm: Sequence[float | None] | None
) -> tuple[str, ...]:
    if ipd_mm is not None or any(distances_mm or ()):
        return ()
    return (
        tr(
            "Distances assume {ipd} mm between the pupils, the usual value; a measured distance "
            "makes them surer.",
            ipd=number(MEAN_IPD_MM),
        ),
    )
