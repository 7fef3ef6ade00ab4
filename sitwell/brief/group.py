"""A couple or a group as a photographer types it: a TOML file with a table for each sitter."""

from dataclasses import dataclass, field, replace
from pathlib import Path

from sitwell.base.errors import UsageError
from sitwell.base.words import tr
from sitwell.brief.comfort import Comfort, comfort_for
from sitwell.brief.tables import Table, read_table
from sitwell.brief.wishes import DIRECTIONS, WEIGHTS, Wish, parse_wish

# Stature less eye height, standing: a round figure from memory, near 110 mm in most surveys.
EYES_BELOW_CROWN_MM = 112.0
HEIGHT_RANGE_MM = (500.0, 2500.0)
SITTER_KEYS = ("name", "frames", "wishes", "limits", "height_mm", "eyes_above_floor_mm", "face",
               "glasses", "marks", "level", "in_the_way", "scan")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class SitterBrief:
    """One of a group: their frames, wishes, limits, and how high their eyes are."""

    name: str
    frames: tuple[Path, ...] = ()
    scan: Path | None = None
    wishes: tuple[Wish, ...] = ()
    comfort: Comfort = field(default_factory=Comfort)
    face: int | None = None
    glasses: bool = False
    marks: Path | None = None
    level: Path | None = None
    in_the_way: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupBrief:
    """A group: its sitters, and what it wishes about their difference in height."""

    sitters: tuple[SitterBrief, ...]
    height_direction: str = "leave"
    height_weight: int = 2


def eyes_above_floor_mm(height_mm: float) -> float:
    """How high the eyes of somebody of a height are above the floor, standing."""
    return height_mm - EYES_BELOW_CROWN_MM


def read_group(path: Path) -> GroupBrief:
    """The group in a TOML file; UsageError says what to correct, and where.

    Files are named from the folder of the TOML file.
    """
    table = read_table(path, "group", UsageError)
    table.only("height_difference", "sitter")
    direction, weight = _height_wish(table)
    rows = table.tables("sitter")
    if len(rows) < 2:
        raise UsageError(
            tr(
                "{where} has {count} [[sitter]]; write one for each, two at the least.",
                where=table.where,
                count=len(rows),
            )
        )
    sitters = tuple(_sitter(row, path.parent, number) for number, row in enumerate(rows, start=1))
    names = [sitter.name for sitter in sitters]
    for name in names:
        if names.count(name) > 1:
            raise UsageError(
                tr(
                    "{where}: two sitters are called '{name}'; tell them apart.",
                    where=table.where,
                    name=name,
                )
            )
    return GroupBrief(sitters=sitters, height_direction=direction, height_weight=weight)


def _height_wish(table: Table) -> tuple[str, int]:
    text = table.text("height_difference", "leave")
    direction, _, weight = text.partition(":")
    if direction not in DIRECTIONS or (weight or "2") not in {str(w) for w in WEIGHTS}:
        raise UsageError(
            tr(
                "{where}: height_difference is '{text}'; write one of {known}, and a weight of "
                "1 to 3 behind a colon if you like.",
                where=table.where,
                text=text,
                known=", ".join(DIRECTIONS),
            )
        )
    return direction, int(weight or "2")


def _sitter(row: Table, folder: Path, number: int) -> SitterBrief:
    row.only(*SITTER_KEYS)
    frames = tuple(folder / name for name in _names(row, "frames"))
    scan = _file(row, "scan", folder)
    if bool(frames) == bool(scan):
        raise UsageError(
            tr("{where}: give frames = [...] or a scan, one of the two.", where=row.where)
        )
    return SitterBrief(
        name=row.text("name", f"Sitter {number}"),
        frames=frames,
        scan=scan,
        wishes=tuple(parse_wish(wish) for wish in _names(row, "wishes")),
        comfort=_comfort(row),
        face=_face(row),
        glasses=_yes(row, "glasses"),
        marks=_file(row, "marks", folder),
        level=_file(row, "level", folder),
        in_the_way=_names(row, "in_the_way"),
    )


def _comfort(row: Table) -> Comfort:
    comfort = comfort_for(_names(row, "limits"))
    for key in ("height_mm", "eyes_above_floor_mm"):
        if key not in row.values:
            continue
        low_mm, high_mm = HEIGHT_RANGE_MM
        value = row.number(key)
        if not low_mm <= value <= high_mm:
            raise UsageError(
                tr(
                    "{where}: {key} is {value}; give millimetres from {low_mm} to {high_mm}.",
                    where=row.where,
                    key=key,
                    value=f"{value:g}",
                    low_mm=f"{low_mm:g}",
                    high_mm=f"{high_mm:g}",
                )
            )
        eyes_mm = eyes_above_floor_mm(value) if key == "height_mm" else value
        return replace(comfort, eyes_above_floor_mm=eyes_mm)
    return comfort


def _names(row: Table, key: str) -> tuple[str, ...]:
    value = row.values.get(key, [])
    if not isinstance(value, list) or not all(isinstance(name, str) and name for name in value):
        raise UsageError(
            tr(
                '{where}: {key} is {value}; give a list of words, ["a", "b"].',
                where=row.where,
                key=key,
                value=repr(value),
            )
        )
    return tuple(value)


def _file(row: Table, key: str, folder: Path) -> Path | None:
    return folder / row.text(key, "") if key in row.values else None


def _face(row: Table) -> int | None:
    value = row.values.get("face")
    if value is not None and (not isinstance(value, int) or isinstance(value, bool) or value < 1):
        raise UsageError(
            tr(
                "{where}: face is {value}; give a whole number, counted from camera left from 1.",
                where=row.where,
                value=repr(value),
            )
        )
    return value


def _yes(row: Table, key: str) -> bool:
    value = row.values.get(key, False)
    if not isinstance(value, bool):
        raise UsageError(
            tr(
                "{where}: {key} is {value}; write true or false.",
                where=row.where,
                key=key,
                value=repr(value),
            )
        )
    return value
