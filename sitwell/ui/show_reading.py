"""What a reading shows: a row for each photograph, the head's lengths and the notes."""

from typing import Any

from rich.table import Table
from rich.text import Text

from sitwell.base.words import mark, number, tr
from sitwell.head.reading import Reading
from sitwell.head.report import reading_as_dict
from sitwell.sheet.words import camera_side
from sitwell.ui.say import console, json_text, line, notes, shown

COLUMNS = (
    mark("frame"),
    mark("faces"),
    mark("turn"),
    mark("chin"),
    mark("tilt"),
    mark("distance"),
    mark("key"),
    mark("blink"),
)

LENGTHS = {
    "interpupillary_mm": mark("pupil to pupil"),
    "face_breadth_mm": mark("face breadth"),
    "face_height_mm": mark("face height"),
    "lower_face_height_mm": mark("lower face height"),
    "nose_length_mm": mark("nose length"),
    "nose_width_mm": mark("nose width"),
    "nose_lean_mm": mark("nose lean"),
    "mouth_width_mm": mark("mouth width"),
    "ear_out_own_left_mm": mark("ear out, own left"),
    "ear_out_own_right_mm": mark("ear out, own right"),
    "ear_length_own_left_mm": mark("ear length, own left"),
    "ear_length_own_right_mm": mark("ear length, own right"),
    "eye_opening_own_left_mm": mark("eye opening, own left"),
    "eye_opening_own_right_mm": mark("eye opening, own right"),
}


def reading(read: Reading, *, as_json: bool) -> None:
    """A row for each photograph, the head's lengths and the notes."""
    content = reading_as_dict(read)
    if as_json:
        json_text(content)
        return
    console.print(_frames_table(content["frames"]))
    if content["head"]:
        lengths = (
            f"{tr(LENGTHS[name])} {number(value, whole=True)}"
            for name, value in content["head"].items()
            if name in LENGTHS and value is not None
        )
        line(tr("Head, mm: {lengths}", lengths=", ".join(lengths)))
    notes(content["notes"])


def _frames_table(frames: list[dict[str, Any]]) -> Table:
    table = Table(box=None, header_style="bold", pad_edge=False)
    for heading in COLUMNS:
        side: Any = "left" if heading == COLUMNS[0] else "right"
        table.add_column(tr(heading), justify=side, no_wrap=True)
    for frame in frames:
        table.add_row(
            Text(shown(frame["file"])),
            str(frame["faces"]),
            *(_spread(frame, name, "deg", "°") for name in ("turn", "chin", "tilt")),
            _metres(frame),
            _key(frame),
            "–" if frame["blink"] is None else number(frame["blink"], 2, whole=True),
        )
    return table


def _spread(frame: dict[str, Any], name: str, unit: str, sign: str) -> str:
    value, spread = frame[f"{name}_{unit}"], frame[f"{name}_spread_{unit}"]
    return "–" if value is None else f"{signed(value)} ±{number(spread, whole=True)}{sign}"


def signed(value: float) -> str:
    """A number with its sign, one digit behind the mark."""
    text = number(value, whole=True)
    return text if text.startswith("−") else f"+{text}"


def _metres(frame: dict[str, Any]) -> str:
    distance_mm, spread_mm = frame["distance_mm"], frame["distance_spread_mm"]
    if distance_mm is None:
        return "–"
    distance, spread = (number(mm / 1000, 2, whole=True) for mm in (distance_mm, spread_mm))
    return f"{distance} ±{spread} m"


def _key(frame: dict[str, Any]) -> str:
    azimuth_deg, elevation_deg = frame["key_azimuth_deg"], frame["key_elevation_deg"]
    if azimuth_deg is None:
        return "–"
    return tr(
        "{azimuth}° {side}, {elevation}° up",
        azimuth=number(abs(azimuth_deg), 0),
        side=camera_side(azimuth_deg),
        elevation=number(elevation_deg, 0),
    )
