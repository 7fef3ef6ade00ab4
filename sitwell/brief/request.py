"""The brief: all that is asked for in one sitting, whoever asks and however many sit.

The command line, the pages, scripts and a file build the same ``Brief``. As a file it is TOML or
JSON with the names of these fields (docs/brief.md); a group's file of older days is one.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from cattrs import Converter, override
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn

from sitwell.base.codec import new_converter, typed
from sitwell.base.errors import UsageError
from sitwell.base.files import write_atomically
from sitwell.base.formats import format_of
from sitwell.base.words import tr
from sitwell.brief.comfort import SEATED_LIMITS, Comfort, comfort_for, eyes_above_floor_mm
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.kit import Kit
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import Room
from sitwell.brief.tables import read_table
from sitwell.brief.wishes import HeightWish, Wish, parse_height_wish, parse_wish

FORMAT = format_of("brief")
SUFFIXES = (".toml", ".json")
HEIGHT_RANGE_MM = (500.0, 2500.0)
LEFT_ALONE = HeightWish()
IN_FILE = {"sitters": "sitter"}
_FILES = ("scan", "level")


@dataclass(frozen=True, slots=True, kw_only=True)
class SitterBrief:
    """One sitter: what their head is read from, what was said of it, wishes and limits.

    The head comes from ``frames``, a ``scan``, or the ``record`` of a label. ``marks`` are a file
    or what stands in one (docs/marks.md). ``face`` counts from camera left where a frame shows
    several; ``faces`` says it by a frame's file name, which counts first. ``pupils_mm`` is measured
    from pupil to pupil, ``height_mm`` is that of the body. ``locks`` are moves of their own that
    stay where they are.
    """

    name: str = ""
    frames: tuple[Path, ...] = ()
    scan: Path | None = None
    record: str = ""
    marks: Path | Mapping[str, Any] | None = None
    level: Path | None = None
    face: int | None = None
    faces: Mapping[str, int] = field(default_factory=dict)
    focal_equivalent_mm: float | None = None
    pupils_mm: float | None = None
    in_the_way: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    wishes: tuple[Wish, ...] = ()
    limits: tuple[str, ...] = ()
    height_mm: float | None = None
    eyes_above_floor_mm: float | None = None
    glasses: bool = False
    locks: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what can be meant by nobody; what files hold is seen when they are read."""
        for face in (self.face, *self.faces.values()):
            if face is not None and face < 1:
                raise UsageError(
                    tr(
                        "face is {value}; give a whole number, counted from camera left from 1.",
                        value=face,
                    )
                )
        low_mm, high_mm = HEIGHT_RANGE_MM
        for key in ("height_mm", "eyes_above_floor_mm"):
            value = getattr(self, key)
            if value is not None and not low_mm <= value <= high_mm:
                raise UsageError(
                    tr(
                        "{key} is {value}; give millimetres from {low_mm} to {high_mm}.",
                        key=key,
                        value=f"{value:g}",
                        low_mm=f"{low_mm:g}",
                        high_mm=f"{high_mm:g}",
                    )
                )
        comfort_for(self.limits)

    @property
    def wears_glasses(self) -> bool:
        """Whether panes must be kept clear: said outright, or by a wish for them."""
        return self.glasses or any(wish.feature == "glasses" for wish in self.wishes)

    def comfort(self) -> Comfort:
        """What is easy for them, and how high their eyes are; a seated one's height is unknown."""
        comfort = comfort_for(self.limits)
        eyes_mm = self.eyes_above_floor_mm
        if eyes_mm is None and self.height_mm is not None and not SEATED_LIMITS & {*self.limits}:
            eyes_mm = eyes_above_floor_mm(self.height_mm)
        return comfort if eyes_mm is None else replace(comfort, eyes_above_floor_mm=eyes_mm)

    def files(self) -> tuple[Path, ...]:
        """Every file that their head is read from."""
        beside = (getattr(self, name) for name in (*_FILES, "marks"))
        return (*self.frames, *(path for path in beside if isinstance(path, Path)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """One sitting: who sits, with what, where, and how it is framed and printed.

    ``kit`` and ``room`` are a preset's name, a TOML file's (docs/kit.md), or what stands in one
    of ours. ``sun_place`` and ``sun_time`` put the room in the sun. ``locks`` are quantities that
    stay where they are; ``rim`` asks for the kit's rim light. ``language`` is that of the sheets,
    the speaker's if left.
    """

    sitters: tuple[SitterBrief, ...]
    format: str = FORMAT
    height_difference: HeightWish = LEFT_ALONE
    kit: str | Kit = ""
    room: str | Room = ""
    sun_place: str = ""
    sun_time: str = ""
    framing: str = "head-and-shoulders"
    aspect: str = "4:5"
    locks: Mapping[str, float | str] = field(default_factory=dict)
    rim: bool = False
    language: str = ""
    paper: str = "a4"
    discreet: bool = False
    plain_head: bool = False

    def __post_init__(self) -> None:
        """Refuse another version's file, nobody at all, and two of one name."""
        if self.format != FORMAT:
            raise UsageError(
                tr(
                    "The format '{name}' is not known; write it as '{known}'.",
                    name=self.format,
                    known=FORMAT,
                )
            )
        if not self.sitters:
            raise UsageError(tr("Nobody sits; write a [[sitter]] for each."))
        names = [sitter.name for sitter in self.sitters if sitter.name]
        for name in names:
            if names.count(name) > 1:
                raise UsageError(tr("Two sitters are called '{name}'; tell them apart.", name=name))

    @property
    def labels(self) -> tuple[str, ...]:
        """What each sitter is called; of several also those without a name."""
        if len(self.sitters) == 1:
            return (self.sitters[0].name,)
        return tuple(
            sitter.name or tr("Sitter {number}", number=number)
            for number, sitter in enumerate(self.sitters, start=1)
        )


def is_brief_file(path: Path) -> bool:
    """Whether a name is that of a brief rather than of a photograph."""
    return path.suffix.lower() in SUFFIXES


def open_brief(path: Path | str) -> Brief:
    """The brief in a TOML or JSON file; UsageError says what to correct, and where.

    Files are named from the folder of the brief.
    """
    path = Path(path)
    return brief_of(_content(path), path.parent, tr("brief {file}", file=path.name))


def brief_of(words: Mapping[str, Any], folder: Path = Path(), where: str = "") -> Brief:
    """The brief in plain words, named as in a file; files are named from ``folder``."""
    brief = typed(_CONVERTER, words, Brief, where, IN_FILE)
    return replace(
        brief,
        sitters=tuple(_from_folder(sitter, folder) for sitter in brief.sitters),
        kit=_named_from(folder, brief.kit, KITS),
        room=_named_from(folder, brief.room, ROOMS),
    )


def changed(brief: Brief, words: Mapping[str, Any]) -> Brief:
    """The brief with other words for the sitting; locks are added to its own."""
    plain = brief_words(brief)
    locks = {**plain.get("locks", {}), **words.get("locks", {})}
    return brief_of({**plain, **words, "locks": locks})


def brief_words(brief: Brief) -> dict[str, Any]:
    """The brief in plain words, whole paths and nothing that is as usual; ``brief_of`` reads it."""
    return {"format": FORMAT, **_CONVERTER.unstructure(_from_root(brief))}


def brief_text(brief: Brief) -> str:
    """The brief as the text of a JSON file."""
    return json.dumps(brief_words(brief), indent=1, ensure_ascii=False) + "\n"


def save_brief(path: Path, brief: Brief) -> Path:
    """Write a brief as JSON, whole or not at all."""
    return write_atomically(path, brief_text(brief))


def _content(path: Path) -> Mapping[str, Any]:
    if path.suffix.lower() != ".json":
        return read_table(path, "brief", UsageError).values
    try:
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise UsageError(
            tr(
                "The brief {file} can't be read ({cause}); check the name and the rights.",
                file=path,
                cause=error.strerror,
            )
        ) from error
    except (ValueError, RecursionError) as error:
        raise UsageError(
            tr("The brief {file} is not JSON ({cause}); correct it.", file=path, cause=error)
        ) from error
    if not isinstance(content, dict):
        raise UsageError(
            tr("The brief {file} is no table of names; write it as docs/brief.md shows.", file=path)
        )
    return content


def _from_folder(sitter: SitterBrief, folder: Path) -> SitterBrief:
    """The sitter with files found from a folder; whole paths stay as they are."""
    changes: dict[str, Any] = {"frames": tuple(folder / frame for frame in sitter.frames)}
    for name in (*_FILES, "marks"):
        if isinstance(path := getattr(sitter, name), Path):
            changes[name] = folder / path
    return replace(sitter, **changes)


def _from_root(brief: Brief) -> Brief:
    sitters = tuple(_from_folder(sitter, Path.cwd()) for sitter in brief.sitters)
    return replace(
        brief,
        sitters=sitters,
        kit=_named_from(Path.cwd(), brief.kit, KITS),
        room=_named_from(Path.cwd(), brief.room, ROOMS),
    )


def _named_from(folder: Path, what: Any, presets: Mapping[str, Any]) -> Any:
    """A kit's or room's file found from a folder; a preset, or one that is given whole, stays."""
    if not isinstance(what, str) or not what or what in presets:
        return what
    path = folder / what
    return str(path) if path.suffix or path.exists() else what


def _read_marks(plain: Any, _: object) -> Path | Mapping[str, Any]:
    return plain if isinstance(plain, Mapping) else _CONVERTER.structure(plain, Path)


def _read_wish(made: Converter, parse: Callable[[str], Any], plain: Any, _: object) -> Any:
    return parse(made.structure(plain, str))


def _read_kit_or_room(plain: Any, kind: Any) -> Any:
    whole = Kit if kind == str | Kit else Room
    return _CONVERTER.structure(plain, str if isinstance(plain, str) else whole)


def _made() -> Converter:
    made = new_converter(strict=True)
    kind: Any
    for kind, parse in ((Wish, parse_wish), (HeightWish, parse_height_wish)):
        made.register_structure_hook(kind, partial(_read_wish, made, parse))
        made.register_unstructure_hook(kind, str)
    made.register_structure_hook(Path | Mapping[str, Any], _read_marks)
    for kind in (str | Kit, str | Room):
        made.register_structure_hook(kind, _read_kit_or_room)
    renamed: Any = {field: override(rename=name) for field, name in IN_FILE.items()}
    made.register_structure_hook(
        Brief, make_dict_structure_fn(Brief, made, _cattrs_forbid_extra_keys=True, **renamed)
    )
    made.register_unstructure_hook(
        Brief, make_dict_unstructure_fn(Brief, made, _cattrs_omit_if_default=True, **renamed)
    )
    return made


_CONVERTER = _made()
