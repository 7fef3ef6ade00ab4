"""What a sitter's head is read from: the names of files, and nothing of the face.

A plan file that may not hold a face holds this instead, so that the head can be read again from
the photographs, which are the photographer's, whenever it is needed.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sitwell.base.errors import PlanFileError, UsageError
from sitwell.base.words import tr
from sitwell.brief.marks import read_marks
from sitwell.head.level import head_as_dict, level_head
from sitwell.head.reading import Reading, read_photos
from sitwell.head.surface import Head
from sitwell.scene.scan import read_scan

_FILES = ("scan", "marks", "level")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Photographs, or a scan, and what the photographer said of them; see ``read_photos``.

    ``ipd_mm`` is a measure of the face, so it is not written down with the rest.
    """

    photos: tuple[Path, ...] = ()
    scan: Path | None = None
    marks: Path | None = None
    level: Path | None = None
    face: int | None = None
    focal_35_mm: float | None = None
    ipd_mm: float | None = None
    in_the_way: tuple[str, ...] = ()

    def read(self) -> Reading:
        """The photographs read together."""
        return read_photos(
            self.photos,
            marks=read_marks(self.marks) if self.marks else None,
            level=self._place_of_level(),
            face=self.face,
            focal_35_mm=self.focal_35_mm,
            ipd_mm=self.ipd_mm,
            in_the_way=self.in_the_way,
        )

    def head(self) -> Head:
        """The sitter's head, read again."""
        return read_scan(self.scan).head if self.scan else levelled(self.read())[0]

    def files(self) -> tuple[Path, ...]:
        """Every file that reading takes."""
        beside = (getattr(self, name) for name in _FILES)
        return (*self.photos, *(path for path in beside if path is not None))

    def as_dict(self) -> dict[str, Any]:
        """Plain values for a file, with whole paths."""
        given = dataclasses.asdict(dataclasses.replace(self, ipd_mm=None))
        return {name: _plain(value) for name, value in given.items() if value not in (None, ())}

    def _place_of_level(self) -> int | None:
        if self.level is None:
            return None
        names = [photo.name for photo in self.photos]
        if self.level.name not in names:
            raise UsageError(
                tr(
                    "The level frame '{file}' is not among the photographs; name one of {known}.",
                    file=self.level.name,
                    known=", ".join(names),
                )
            )
        return names.index(self.level.name)


def levelled(reading: Reading) -> tuple[Head, dict[str, Any]]:
    """The head with its own zero, and what rebuilds it; FaceError where no face was read."""
    head = reading.require_head()
    neutral = next(frame.neutral for frame in reading.frames if frame.fitted is not None)
    return level_head(head, neutral), head_as_dict(head, neutral)


def source_from_dict(content: Mapping[str, Any]) -> Source:
    """A source as a plan file holds it; PlanFileError where it is damaged or a file is gone."""
    try:
        scan, marks, level = (_path(content.get(name)) for name in _FILES)
        source = Source(
            photos=tuple(Path(path) for path in content.get("photos", ())),
            scan=scan,
            marks=marks,
            level=level,
            face=None if content.get("face") is None else int(content["face"]),
            focal_35_mm=_number(content.get("focal_35_mm")),
            in_the_way=tuple(str(name) for name in content.get("in_the_way", ())),
        )
        missing = [path for path in source.files() if not path.is_file()]
    except (AttributeError, TypeError, ValueError, OverflowError) as problem:
        raise PlanFileError(
            tr(
                "What the plan's head was read from is damaged near {problem}; plan anew.",
                problem=problem,
            )
        ) from problem
    if missing or not source.files():
        raise PlanFileError(
            tr(
                "The sitter's head is read from '{file}', which is not there any more; put it "
                "back, or plan anew from the frames.",
                file=missing[0] if missing else "",
            )
        )
    return source


def _path(value: Any) -> Path | None:
    return None if value is None else Path(value)


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


def _plain(value: Any) -> Any:
    if isinstance(value, Path):
        return str(value.absolute())
    return [_plain(item) for item in value] if isinstance(value, tuple) else value
