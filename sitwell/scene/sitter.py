"""A sitter as read: their head with its own zero, from frames, a scan or what was kept of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sitwell.base.errors import HeadError, PhotoError, UsageError
from sitwell.base.words import tr
from sitwell.brief.marks import Marks, marks_from_dict, read_marks
from sitwell.brief.request import SitterBrief
from sitwell.head.level import head_as_dict, head_from_dict, level_head
from sitwell.head.reading import Reading, read_photos
from sitwell.head.surface import Head
from sitwell.scene.preview import Sculpture
from sitwell.scene.scan import read_scan
from sitwell.scene.skin_merge import skin_from_frames


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """A sitter as read: the reading, their head with their own zero, and what rebuilds it.

    ``found`` and ``kept`` are None and empty where no face was read. ``brief`` is what was asked.
    """

    reading: Reading
    found: Head | None
    kept: Mapping[str, Any]
    brief: SitterBrief | None = None

    @property
    def head(self) -> Head:
        """The head; FaceError with the reason where no face was read."""
        return self.found or self.reading.require_head()


def read_sitter(brief: SitterBrief) -> Sitter:
    """The sitter of a brief, from frames or a scan; UsageError without either."""
    if bool(brief.frames) == (brief.scan is not None):
        raise UsageError(
            tr(
                "Give one to three test frames, a scan with --scan, or --sitter for somebody "
                "whose head is in the records; one of the three."
            )
        )
    if brief.scan is not None:
        scan = read_scan(brief.scan)
        kept = head_as_dict(scan.head, np.eye(3))  # the nearest parametric head
        reading = Reading(frames=(), fit=None, notes=scan.notes)
        return Sitter(reading=reading, found=scan.head, kept=kept, brief=brief)
    return sitter_of(read_frames(brief), brief)


def read_frames(brief: SitterBrief) -> Reading:
    """The frames of a brief read together."""
    return read_photos(
        brief.frames,
        marks=_marks(brief.marks),
        level=_place_of_level(brief),
        face=brief.face,
        faces=brief.faces,
        focal_35_mm=brief.focal_equivalent_mm,
        ipd_mm=brief.pupils_mm,
        in_the_way=brief.in_the_way,
        without=brief.without,
    )


def sitter_of(reading: Reading, brief: SitterBrief | None = None) -> Sitter:
    """The sitter of a reading."""
    if reading.fit is None:
        return Sitter(reading=reading, found=None, kept={}, brief=brief)
    neutral = next(frame.neutral for frame in reading.frames if frame.fitted is not None)
    head = reading.fit.head
    return Sitter(
        reading=reading,
        found=level_head(head, neutral),
        kept=head_as_dict(head, neutral),
        brief=brief,
    )


def sitter_kept(kept: Mapping[str, Any], brief: SitterBrief | None = None) -> Sitter:
    """The sitter of a head that was kept (``head_as_dict``)."""
    reading = Reading(frames=(), fit=None, notes=())
    return Sitter(reading=reading, found=head_from_dict(kept), kept=kept, brief=brief)


def in_own_skin(sitter: Sitter) -> tuple[Sculpture, str]:
    """The head for pictures in the sitter's own skin; plain, with a note, where it can't be had."""
    if sitter.reading.fit is None:  # scanned, or kept
        return Sculpture(sitter.head), ""
    try:
        return Sculpture(sitter.head, skin_from_frames(sitter.reading)), ""
    except (HeadError, PhotoError) as problem:
        return Sculpture(sitter.head), tr("The pictures show a plain head: {why}", why=str(problem))


def _marks(given: Path | Mapping[str, Any] | None) -> Marks | None:
    if given is None:
        return None
    return read_marks(given) if isinstance(given, Path) else marks_from_dict(given)


def _place_of_level(brief: SitterBrief) -> int | None:
    if brief.level is None:
        return None
    names = [frame.name for frame in brief.frames]
    if brief.level.name not in names:
        raise UsageError(
            tr(
                "The level frame '{file}' is not among the photographs; name one of {known}.",
                file=brief.level.name,
                known=", ".join(names),
            )
        )
    return names.index(brief.level.name)
