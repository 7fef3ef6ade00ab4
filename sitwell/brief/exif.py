"""What a photograph says about how it was taken: its EXIF facts, cleaned of nonsense.

Tags and their meaning: Exif 2.32 (focal length in actual millimetres, 0 for an unknown 35 mm
equivalent); the sub-second tag is a decimal fraction written as digits, so "5" is half a second
(from memory).
"""

import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sitwell.base.words import mark, number, tr

if TYPE_CHECKING:
    from PIL import Image

_EXIF_IFD = 0x8769
_TIMES = 36867
_SUBSECONDS = 37521
_OFFSET = 36881
_F_NUMBER = 33437
_FOCAL = 37386
_FOCAL_35 = 41989
_SUBJECT_DISTANCE = 37382
_PLANE_X, _PLANE_Y, _PLANE_UNIT = 41486, 41487, 41488
_PIXELS_X, _PIXELS_Y = 40962, 40963
_MM_PER_PLANE_UNIT = {2: 25.4, 3: 10.0, 4: 1.0}

# Outside these no camera that takes portraits was ever built.
FOCAL_RANGE_MM = (1.0, 1200.0)
F_NUMBER_RANGE = (0.5, 64.0)
FOCAL_NAME, F_NUMBER_NAME = mark("focal length"), mark("f-number")
FOCAL_35_NAME = mark("35 mm-equivalent focal length")
DISTANCE_RANGE_MM = (100.0, 100_000.0)
SENSOR_RANGE_MM = (3.0, 150.0)
_CROP_RANGE = (0.3, 12.0)
# Sensors that cameras have, width and height in mm (from memory), and how near a size must come.
# An export that was resized keeps the resolution tags of the whole picture beside its own few
# pixels, which together give a sensor that no camera has.
_SENSORS_MM = (
    (53.4, 40.0), (43.9, 32.9), (36.0, 24.0), (28.7, 19.1), (23.5, 15.6), (22.3, 14.9),
    (17.3, 13.0), (13.2, 8.8), (9.8, 7.3), (7.6, 5.7), (6.2, 4.6),
)  # fmt: skip
_LIKE_A_SENSOR = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class ExifFacts:
    """EXIF facts of one photograph, lengths in millimetres, None where unknown or nonsense.

    ``sensor_diagonal_mm`` follows from the focal-plane resolution and the pixel count, where they
    give a sensor that cameras have;
    ``pixels_wide`` and ``pixels_high`` are what the camera recorded, before any cropping.
    """

    focal_mm: float | None = None
    focal_35_mm: float | None = None
    f_number: float | None = None
    sensor_diagonal_mm: float | None = None
    subject_distance_mm: float | None = None
    taken: datetime | None = None
    pixels_wide: int | None = None
    pixels_high: int | None = None
    notes: tuple[str, ...] = ()


def read_exif(image: "Image.Image") -> ExifFacts:
    """EXIF facts of an opened image; a damaged block gives a note, never an error."""
    from sitwell.brief.pictures import exif_of

    try:
        exif = exif_of(image)
        tags = {**exif, **exif.get_ifd(_EXIF_IFD)}
    except (SyntaxError, ValueError, TypeError, KeyError, OSError, struct.error, AttributeError):
        return ExifFacts(notes=(tr("The EXIF block is damaged and was not used."),))
    return facts_from_tags(tags)


def facts_from_tags(tags: Mapping[int, Any]) -> ExifFacts:
    """EXIF facts from a mapping of tag numbers to raw values."""
    notes: list[str] = []
    focal = _in_range(tags, _FOCAL, FOCAL_RANGE_MM, FOCAL_NAME, notes)
    focal_35 = _in_range(tags, _FOCAL_35, FOCAL_RANGE_MM, FOCAL_35_NAME, notes)
    if focal and focal_35 and not _CROP_RANGE[0] <= focal_35 / focal <= _CROP_RANGE[1]:
        notes.append(
            tr(
                "EXIF gives a focal length of {focal} mm and a 35 mm equivalent of {equivalent} "
                "mm, which fit no sensor; neither was used.",
                focal=number(focal),
                equivalent=number(focal_35),
            )
        )
        focal = focal_35 = None
    metres = _number(tags.get(_SUBJECT_DISTANCE))
    distance = metres * 1000.0 if metres else None
    if distance is not None and not DISTANCE_RANGE_MM[0] <= distance <= DISTANCE_RANGE_MM[1]:
        distance = None
    return ExifFacts(
        focal_mm=focal,
        focal_35_mm=focal_35,
        f_number=_in_range(tags, _F_NUMBER, F_NUMBER_RANGE, F_NUMBER_NAME, notes),
        sensor_diagonal_mm=_sensor_diagonal_mm(tags),
        subject_distance_mm=distance,
        taken=_taken(tags),
        pixels_wide=_count(tags.get(_PIXELS_X)),
        pixels_high=_count(tags.get(_PIXELS_Y)),
        notes=tuple(notes),
    )


def _in_range(
    tags: Mapping[int, Any], tag: int, allowed: tuple[float, float], name: str, notes: list[str]
) -> float | None:
    if tag not in tags:
        return None
    value = _number(tags[tag])
    if value == 0:
        return None  # the standard's own word for unknown
    if value is None or not allowed[0] <= value <= allowed[1]:
        shown = tr("unreadable") if value is None else f"{value:g}"
        text = mark("The EXIF {name} is {value}, which no camera has; it was not used.")
        notes.append(tr(text, name=tr(name), value=shown))
        return None
    return value


def _sensor_diagonal_mm(tags: Mapping[int, Any]) -> float | None:
    unit = _MM_PER_PLANE_UNIT.get(_count(tags.get(_PLANE_UNIT)) or 2)
    per_unit = (_number(tags.get(_PLANE_X)), _number(tags.get(_PLANE_Y)))
    pixels = (_count(tags.get(_PIXELS_X)), _count(tags.get(_PIXELS_Y)))
    if unit is None or not all(per_unit) or not all(pixels):
        return None
    sides = [
        count / density * unit
        for count, density in zip(pixels, per_unit, strict=True)
        if count and density
    ]
    known = any(
        abs(math.log(max(sides) / wide)) < _LIKE_A_SENSOR
        and abs(math.log(min(sides) / high)) < _LIKE_A_SENSOR
        for wide, high in _SENSORS_MM
    )
    return math.hypot(*sides) if known else None


def _taken(tags: Mapping[int, Any]) -> datetime | None:
    text = str(tags.get(_TIMES, "")).strip("\x00 ")
    try:
        moment = datetime.strptime(text, "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    digits = str(tags.get(_SUBSECONDS, "")).strip("\x00 ")
    if digits.isascii() and digits.isdigit():
        moment = moment.replace(microsecond=int(digits[:6].ljust(6, "0")))
    try:
        offset = datetime.strptime(str(tags.get(_OFFSET, "")).strip("\x00 "), "%z").tzinfo
    except ValueError:
        return moment
    return moment.replace(tzinfo=offset)


def _number(value: object) -> float | None:
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _count(value: object) -> int | None:
    number = _number(value)
    return int(number) if number is not None and 0 < number < 1e6 else None
