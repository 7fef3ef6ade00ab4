"""The pages' door to reading: frames in, what is drawn of each and the head out; then the likeness.

``read_face`` and ``make_likeness`` are top-level functions on plain data, run in the workshop's
process.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.words import renamed
from sitwell.brief.marks import POINT_NAMES
from sitwell.brief.request import SitterBrief
from sitwell.head.fit import Fit, FittedFrame
from sitwell.head.pose import Sighting, project
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.seen_features import IN_THE_WAY
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.head.zero import with_level
from sitwell.likeness.likeness import Likeness, likeness_of
from sitwell.scene.sitter import read_frames, sitter_of
from sitwell.ui.web.jobs import Stop, Tell
from sitwell.ui.web.wording import mark

PAINTING = mark("making the picture from the frames")

OPENING = mark("reading the frames")
LEVEL = mark("Level and straight on, looking into the lens, mouth closed.")
# So far beside the lens is a turn of some 26 degrees, which shows an ear and that side of the nose.
OWN_LEFT = mark(
    "Turned to the sitter’s left, the near ear in view: the nose at your hand or a mark at camera "
    "right, half as far from the lens as the sitter is."
)
OWN_RIGHT = mark(
    "Turned to the sitter’s right, the near ear in view: the nose at your hand or a mark at camera "
    "left, half as far from the lens as the sitter is."
)
ENOUGH = mark("These frames are enough for a plan. Marks on the ears make it surer.")
ANOTHER = mark("These frames hardly show one and the same face; shoot one again, mouth closed.")
# Frames nearer to straight on than this count as level, farther than the other as turned;
# both are design choices.
LEVEL_DEG, TURNED_DEG = 12.0, 15.0
HIGH_STRAIN = 2.0
# Turn, chin and tilt together; one farther from square is not taken for level unasked (our choice:
# a chin up to some ten degrees from the mean head's zero is common among level heads).
SQUARE_DEG = 15.0
PROPOSED = tuple(name for name in POINT_NAMES if not name.startswith("iris"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameWork:
    """One frame to read: its number on the page, what it is called, and our copy's own name."""

    id: str
    name: str
    file: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSeen:
    """What is drawn of one frame; ``trouble`` says why it could not be used.

    ``dots`` are landmarks and ``wire`` the fitted head's lines as an SVG path, in full-size pixels;
    ``proposed`` are places for marks by name. Angles and their spread are in degrees. ``faces_px``
    are the boxes of all faces in it, from camera left; ``things`` lie over the sitter's.
    """

    id: str
    dots: tuple[tuple[float, float], ...] = ()
    wire: str = ""
    proposed: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    seen_deg: tuple[float, float, float] | None = None
    spread_deg: tuple[float, float, float] | None = None
    distance_mm: float | None = None
    key_deg: tuple[float, float] | None = None
    faces_px: tuple[tuple[float, float, float, float], ...] = ()
    things: tuple[str, ...] = ()
    trouble: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceRead:
    """The frames and, where one could be used, the head with what rebuilds it in a file."""

    frames: tuple[FrameSeen, ...]
    head: Head | None
    kept: Mapping[str, Any]
    notes: tuple[str, ...]
    advice: tuple[str, ...]
    asks: tuple[str, ...] = ()
    unlike: tuple[str, ...] = ()
    level: str = ""


def read_face(
    asked: SitterBrief, frames: Sequence[FrameWork], choose_level: bool, tell: Tell, stop: Stop
) -> FaceRead:
    """Read the frames of one sitter together; ``frames`` are those, as the page calls them.

    With ``choose_level`` the frame nearest to square is the level one, if any is near.
    """
    tell(0.1, OPENING)
    reading = _read(asked)
    level = _squarest(reading) if choose_level else None
    if level is not None:
        reading = _last[_signature(asked)] = with_level(reading, level)
    files = {frame.file: frame.id for frame in frames}
    seen = tuple(
        _seen(frame, found, reading.fit)
        for frame, found in zip(frames, reading.frames, strict=True)
    )
    names = {frame.file: frame.name for frame in frames}
    sitter = sitter_of(reading)
    return FaceRead(
        frames=seen,
        head=sitter.found,
        kept=sitter.kept,
        notes=tuple(renamed(note, names) for note in reading.notes),
        advice=_advice(seen, reading.fit),
        asks=tuple(renamed(text, names) for text in reading.asks),
        unlike=tuple(files[file] for file in reading.unlike if file in files),
        level=frames[level].id if level is not None else files.get(_named(asked.level), ""),
    )


def make_likeness(asked: SitterBrief, tell: Tell, stop: Stop) -> Likeness | None:
    """The sitter's likeness from the frames that gave the head; None where it can't be had."""
    tell(0.1, PAINTING)
    reading = _last.get(_signature(asked)) or _read(asked)
    head = sitter_of(reading).found
    if stop() or head is None:
        return None
    return likeness_of(reading, head)


# The worker's latest reading, so that the likeness needs no second one.
_last: dict[str, Reading] = {}


def _read(asked: SitterBrief) -> Reading:
    reading = read_frames(asked)
    _last.clear()
    _last[_signature(asked)] = reading
    return reading


def _signature(asked: SitterBrief) -> str:
    return repr(replace(asked, wishes=(), limits=()))


def _named(path: Path | None) -> str:
    return path.name if path else ""


def _squarest(reading: Reading) -> int | None:
    """The place of the frame in which the sitter looks nearest to straight and level."""
    off_deg = {
        place: math.hypot(*frame.pose.seen_deg)
        for place, frame in enumerate(reading.frames)
        if frame.pose is not None
    }
    nearest = min(off_deg, key=off_deg.__getitem__, default=None)
    return nearest if nearest is not None and off_deg[nearest] < SQUARE_DEG else None


def _seen(frame: FrameWork, found: FrameReading, fit: Fit | None) -> FrameSeen:
    names = {frame.file: frame.name}
    # the page has its own control for what lies over a face
    told = (note for note in found.notes if getattr(note, "message", "") != IN_THE_WAY)
    notes = tuple(renamed(note, names) for note in told)
    sighting, pose, fitted = found.sighting, found.pose, found.fitted
    if fit is None or sighting is None or pose is None or fitted is None:
        trouble, more = notes[0] if notes else "", notes[1:]
        return FrameSeen(id=frame.id, faces_px=found.boxes_px, trouble=trouble, notes=more)
    laid = _Overlay.of(fit.head, fitted, sighting)
    light, spread = found.light, fitted.spread
    return FrameSeen(
        id=frame.id,
        dots=tuple((round(x, 1), round(y, 1)) for x, y in sighting.landmarks_px.tolist()),
        wire=laid.wire(),
        proposed=laid.proposed(),
        seen_deg=pose.seen_deg,
        spread_deg=(spread.turn_deg, spread.chin_deg, spread.tilt_deg),
        distance_mm=pose.distance_mm,
        key_deg=(light.key_azimuth_deg, light.key_elevation_deg) if light else None,
        faces_px=found.boxes_px,
        things=tuple(sorted(found.obscured)),
        notes=notes,
    )


def _advice(frames: Sequence[FrameSeen], fit: Fit | None) -> tuple[str, ...]:
    """What to shoot next, so that every side of the face has been seen once."""
    turns = [frame.seen_deg[0] for frame in frames if frame.seen_deg is not None]
    wanted = [
        (LEVEL, any(abs(turn) < LEVEL_DEG for turn in turns)),
        (OWN_LEFT, any(turn > TURNED_DEG for turn in turns)),
        (OWN_RIGHT, any(turn < -TURNED_DEG for turn in turns)),
    ]
    missing = tuple(text for text, there in wanted if not there)
    if fit is not None and fit.strain > HIGH_STRAIN:
        return (ANOTHER, *missing)
    return missing or (ENOUGH,)


@dataclass(frozen=True, slots=True)
class _Overlay:
    """The fitted head, with the frame's expression, as it lies in the photograph."""

    head: Head
    pixels: NDArray[np.float64]
    towards: NDArray[np.float64]  # each triangle's area in px^2, positive where it faces the lens

    @classmethod
    def of(cls, head: Head, fitted: FittedFrame, sighting: Sighting) -> "_Overlay":
        expression = fitted.expression.astype(np.float32)
        shown = head_from_values(load_template(), head.shape, expression, head.hairline_mm)
        focal_px = sighting.focal.px_at(fitted.pose.distance_mm)
        pixels = project(
            shown.vertices_mm.astype(np.float64), fitted.pose, focal_px, sighting.centre_px
        )
        first, second, third = (pixels[shown.triangles[:, corner]] for corner in range(3))
        along, beside = second - first, third - first
        return cls(shown, pixels, along[:, 1] * beside[:, 0] - along[:, 0] * beside[:, 1])

    def wire(self) -> str:
        """The lines where one patch of the face meets another, as an SVG path."""
        edges, owners = _borders(self.head)
        shown = (self.towards[owners] > 0).all(axis=1)
        starts, ends = self.pixels[edges[shown, 0]], self.pixels[edges[shown, 1]]
        return "".join(
            f"M{x1:.0f} {y1:.0f}L{x2:.0f} {y2:.0f}"
            for (x1, y1), (x2, y2) in zip(starts, ends, strict=True)
        )

    def proposed(self) -> dict[str, tuple[float, float]]:
        """Where the marks should lie that the lens can see."""
        places = {}
        for name in PROPOSED:
            triangle, weights = self.head.point_anchors[name]
            x, y = weights @ self.pixels[self.head.triangles[triangle]]
            if self.towards[triangle] > 0:
                places[name] = (float(x), float(y))
        return places


def _borders(head: Head) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Edges (E, 2) between triangles of different patches, and those two triangles (E, 2)."""
    corners = head.triangles.astype(np.int64)
    sides = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    owner = np.tile(np.arange(len(corners)), 3)
    order = np.lexsort(np.sort(sides, axis=1).T)
    ordered, owner = np.sort(sides, axis=1)[order], owner[order]
    twins = np.flatnonzero((ordered[1:] == ordered[:-1]).all(axis=1))
    first, second = owner[twins], owner[twins + 1]
    patch = head.region_of_triangle
    differs = (patch[first] != patch[second]) & (patch[first] > 0) & (patch[second] > 0)
    return ordered[twins[differs]], np.stack([first, second], axis=1)[differs]
