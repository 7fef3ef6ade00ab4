"""Write docs/fields.md from the types that files are made of.

``python -m builders.docs.fields_page``. What a field means is said where its type is; the page
tells names, kinds and what stands if left. A test fails when the page is stale.
"""

import dataclasses
import inspect
import types
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Union, get_args, get_origin, get_type_hints

from sitwell.base.files import write_atomically
from sitwell.base.formats import format_of
from sitwell.brief.kit import Camera, Kit, Lens, LightSource
from sitwell.brief.place_light import Daylight
from sitwell.brief.request import IN_FILE, Brief, SitterBrief
from sitwell.brief.room import Room
from sitwell.brief.wishes import HeightWish, Wish
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.report import reading_as_dict
from sitwell.scene.setup import Setup
from sitwell.search.plan import (
    Conflict,
    Gain,
    GuardState,
    Leeway,
    Plan,
    PlannedSetup,
    Reason,
)
from sitwell.sheet.plan_file import plan_as_dict
from sitwell.shoot.live import Checked
from sitwell.ui.web.paper import FrameNote, SitterNote, Sitting

PAGE = Path(__file__).resolve().parents[2] / "docs" / "fields.md"
OPENING = """# The fields of files and answers

Made from the code's own types by `python -m builders.docs.fields_page`; change the words there.
Every JSON that is written or printed names its format and version first, in the key `format`.
Briefs, marks and papers of older days, which name none, are read as the first version.
Keys may be added under the same version; none is renamed.
`null` is a number that can't be told; units stand in the names: `_mm`, `_deg`, `_stops`.
"""
KINDS = {str: "text", float: "number", int: "whole number", bool: "yes or no", Path: "file",
         Wish: "`FEATURE:DIRECTION:WEIGHT`", HeightWish: "`DIRECTION:WEIGHT`",
         type(None): "nothing", Any: "anything"}  # fmt: skip


def main() -> None:
    """Write the page."""
    write_atomically(PAGE, page())


def page() -> str:
    """The whole page."""
    answer = Reading(frames=(FrameReading(file="", faces=0),), fit=None, notes=())
    plan = plan_as_dict(Plan(baseline=Setup(), baseline_measures={}, setups=(), conflicts=()), {})
    return "".join(
        (
            OPENING,
            _format("brief", "what `sitwell plan FILE` takes ([the brief](brief.md))"),
            *map(_type, (Brief, SitterBrief, Kit, Camera, Lens, LightSource, Room, Daylight)),
            _format("plan", "`plan.json`, and what `sitwell plan --json` prints"),
            _keys(plan),
            *map(_type, (PlannedSetup, Setup, Gain, GuardState, Leeway, Reason, Conflict)),
            _format("group", "`group.json`, and what `sitwell plan --json` prints for several"),
            "\nThe plan's keys, with `sitters` by name; each set-up has what is everybody's, and "
            "for each sitter the keys of a planned set-up, a `name` and a `place`.\n",
            _format("reading", "what `sitwell read --json` prints ([reading](reading.md))"),
            _keys(reading_as_dict(answer)),
            "\nA row of `frames`:\n",
            _keys(reading_as_dict(answer)["frames"][0]),
            _format("checked frame", "a line of `sitwell watch --json` ([shooting](shooting.md))"),
            _keys(Checked(file="").as_dict()),
            _format("sorting", "`order.json`, and what `sitwell sort --json` prints "
                    "([sorting](sorting.md))"),
            _format("sun", "what `sitwell sun --json` prints ([light](light.md))"),
            _format("stills", "what `sitwell stills --json` prints"),
            _format("marks", "points placed on photographs ([marks](marks.md))"),
            _format("sitting papers", "a sitting's papers on the pages ([the pages](web.md))"),
            *map(_type, (Sitting, SitterNote, FrameNote)),
            _format("group papers", "what was planned for several, beside those papers"),
            _format("gear", "kits and rooms that were saved on the pages, and the last ones used"),
            "\n`kits` and `rooms` by name, as in a brief; `last` has keys of the papers.\n",
            "\nA sitting that `sitwell export` wrote names its format too; its fields are told in "
            "[records](records.md).\n",
        )
    )  # fmt: skip


def _format(what: str, told: str) -> str:
    return f"\n## {format_of(what)}\n\n{told[0].upper()}{told[1:]}.\n"


def _keys(content: Mapping[str, Any]) -> str:
    """The keys of an answer, as the code that writes it gives them."""
    return "\n" + ", ".join(f"`{key}`" for key in content) + "\n"


def _type(kind: Any) -> str:
    """A type's fields as a table, under the first sentence of what it is."""
    told = (inspect.getdoc(kind) or "").split("\n\n")[0].replace("\n", " ").replace("``", "`")
    hints = get_type_hints(kind)
    rows = "".join(
        f"| `{IN_FILE.get(field.name, field.name)}` | {_kind(hints[field.name])} "
        f"| {_default(field)} |\n"
        for field in dataclasses.fields(kind)
    )
    return f"\n### {kind.__name__}\n\n{told}\n\n| key | kind | if left |\n|---|---|---|\n{rows}"


def _kind(kind: Any) -> str:
    if kind in KINDS:
        return KINDS[kind]
    origin, parts = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return " or ".join(_kind(part) for part in parts)
    if origin in (tuple, list):
        many = len(parts) == 1 or parts[-1] is Ellipsis
        return f"list of {_kind(parts[0])}" if many else f"{len(parts)} × {_kind(parts[0])}"
    if origin is not None and issubclass(origin, Mapping | dict):
        return f"{_kind(parts[1])} by name"
    return str(getattr(kind, "__name__", kind))


def _default(field: "dataclasses.Field[Any]") -> str:
    if field.default is dataclasses.MISSING:
        return "required" if field.default_factory is dataclasses.MISSING else "none"
    value = field.default
    if value is None or value == "" or (isinstance(value, Sequence) and not value):
        return "none"
    if isinstance(value, bool):
        return "no" if not value else "yes"
    shown = f"{value:g}" if isinstance(value, float) else str(value)
    return f"`{shown}`"


if __name__ == "__main__":
    main()
