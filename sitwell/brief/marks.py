"""Marks: points that the photographer placed on a photograph, where landmarks can't know.

The file's form is described in docs/marks.md.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from sitwell.base.errors import MarksError
from sitwell.base.formats import format_of
from sitwell.base.words import tr

_SIDES = ("own_left", "own_right")
_STEMS = ("ear_top", "ear_outer", "ear_lobe", "iris", "lid_upper", "lid_lower")
POINT_NAMES = (
    *(f"{stem}_{side}" for stem in _STEMS for side in _SIDES),
    "hairline",
    "nose_tip",
    "chin",
)
LINE_NAMES = ("nose_ridge",)
_LARGEST_PX = 10**6
SMALLEST_SPREAD_PX, LARGEST_SPREAD_PX = 0.1, 500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One placed point: x right and y down, in pixels of the upright full-size picture.

    ``spread_px`` is how far off it may be (one sigma); None leaves that to the reader. A mark
    named nose_ridge lies somewhere on the ridge, one of a lid on its edge in the middle of the
    eye; the others are points of their own. ``speaks`` says which of the upright head's directions
    it counts in: an edge found in the picture tells one of them.
    """

    name: str
    x_px: float
    y_px: float
    spread_px: float | None = None
    speaks: Literal["both", "across", "up"] = "both"


Marks = Mapping[str, tuple[Mark, ...]]


def read_marks(path: str | Path) -> Marks:
    """Marks by photograph file name; raises MarksError where the file can't be read."""
    path = Path(path)
    try:
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise MarksError(
            tr("There is no marks file '{file}'; check the name.", file=path)
        ) from error
    except OSError as error:
        raise MarksError(
            tr("The marks file '{file}' may not be read; check it.", file=path)
        ) from error
    except (ValueError, RecursionError) as error:  # no text, no JSON, or a number of miles
        raise MarksError(
            tr(
                "The marks file '{file}' is not JSON; write it as docs/marks.md shows.",
                file=path.name,
            )
        ) from error
    return marks_from_dict(content, path.name)


def marks_from_dict(content: Any, file_name: str = "marks") -> Marks:
    """Marks from the file's content: photograph name -> point name -> position."""
    if not isinstance(content, dict):
        raise MarksError(
            tr(
                "The marks file '{file_name}' must map photograph names to points; write it as "
                "docs/marks.md shows.",
                file_name=file_name,
            )
        )
    photos = dict(content)
    if isinstance(name := photos.get("format"), str):
        del photos["format"]
        if name != format_of("marks"):
            raise MarksError(
                tr(
                    "The format '{name}' of the marks file '{file_name}' is not known; write it as "
                    "'{known}'.",
                    name=name,
                    file_name=file_name,
                    known=format_of("marks"),
                )
            )
    return {photo: _marks_of_photo(photo, points) for photo, points in photos.items()}


def _marks_of_photo(photo: str, points: Any) -> tuple[Mark, ...]:
    if not isinstance(points, dict):
        raise MarksError(
            tr(
                "The marks of '{photo}' must map point names to positions, such as "
                '{"nose_tip": [1510, 2044]}.',
                photo=photo,
            )
        )
    marks: list[Mark] = []
    for name, value in points.items():
        if name in LINE_NAMES:
            if not isinstance(value, list) or not all(isinstance(v, list | dict) for v in value):
                raise MarksError(
                    tr(
                        "The mark '{name}' of '{photo}' is a line; give a list of positions, "
                        "such as [[1500, 1800], [1506, 1900]].",
                        name=name,
                        photo=photo,
                    )
                )
            marks += [_mark(photo, name, position) for position in value]
        elif name in POINT_NAMES:
            marks.append(_mark(photo, name, value))
        else:
            known = ", ".join((*POINT_NAMES, *LINE_NAMES))
            raise MarksError(
                tr(
                    "There is no mark '{name}' (in '{photo}'); choose from {known}.",
                    name=name,
                    photo=photo,
                    known=known,
                )
            )
    return tuple(marks)


def _mark(photo: str, name: str, position: Any) -> Mark:
    numbers: list[Any]
    if isinstance(position, dict):
        numbers = [position.get("x_px"), position.get("y_px"), position.get("spread_px")]
        unknown = set(position) - {"x_px", "y_px", "spread_px"}
    else:
        numbers = [*position, None] if isinstance(position, list) else []
        unknown = set()
    if unknown or len(numbers) != 3 or not all(map(_is_number, numbers[:2])):
        raise MarksError(
            tr(
                "The mark '{name}' of '{photo}' is {dumps}; give [x, y] or {\"x_px\": x, "
                '"y_px": y, "spread_px": how far off it may be}.',
                name=name,
                photo=photo,
                dumps=json.dumps(position, default=str),
            )
        )
    x_px, y_px, spread_px = numbers
    if spread_px is not None and not (
        _is_number(spread_px) and SMALLEST_SPREAD_PX <= spread_px <= LARGEST_SPREAD_PX
    ):
        raise MarksError(
            tr(
                "The spread of mark '{name}' of '{photo}' is {spread_px}; give pixels from "
                "{smallest_spread_px} to {largest_spread_px}.",
                name=name,
                photo=photo,
                spread_px=spread_px,
                smallest_spread_px=f"{SMALLEST_SPREAD_PX:g}",
                largest_spread_px=f"{LARGEST_SPREAD_PX:g}",
            )
        )
    return Mark(name=name, x_px=float(x_px), y_px=float(y_px), spread_px=spread_px)


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return math.isfinite(value) if isinstance(value, float) else abs(value) < _LARGEST_PX


def check_marks(marks: Marks, sizes_px: Mapping[str, tuple[int, int]]) -> tuple[str, ...]:
    """Hold marks against the photographs' (width, height): MarksError for a mark outside one.

    Returns a note for each photograph that is marked but was not given.
    """
    for photo, (width, height) in sizes_px.items():
        for mark in marks.get(photo, ()):
            if not (0 <= mark.x_px <= width and 0 <= mark.y_px <= height):
                raise MarksError(
                    tr(
                        "The mark '{mark}' of '{photo}' lies at {x_px}, {y_px}, outside its "
                        "{width} x {height} pixels; place it again on the upright picture.",
                        mark=mark.name,
                        photo=photo,
                        x_px=f"{mark.x_px:g}",
                        y_px=f"{mark.y_px:g}",
                        width=width,
                        height=height,
                    )
                )
    return tuple(
        tr("'{file}' is marked but was not among the photographs.", file=photo)
        for photo in marks
        if photo not in sizes_px
    )
