"""A plan as JSON and back, so that the set, the frames and the hand-over read the same plan.

A file with ``head`` describes the sitter's face; whoever keeps it needs their consent. Without one
it holds a ``source``: what the head can be read again from, and no measure of the face.
Quantities that can't be told (glare without glasses, or a face) are ``null``. ``sentences``
says how each sentence was made, so that another language can tell it.
"""

import dataclasses
import json
import math
import types
from collections.abc import Mapping
from pathlib import Path
from typing import Any, get_args, get_origin, get_type_hints

from sitwell.base.errors import PlanFileError
from sitwell.base.files import write_atomically
from sitwell.base.words import how_told, told_again, tr
from sitwell.head.level import head_from_dict
from sitwell.head.surface import Head
from sitwell.search.plan import Gain, Plan, PlannedSetup
from sitwell.sheet.plan_source import Source, source_from_dict
from sitwell.sheet.words import sitter_words

FORMAT = "sitwell plan 1"


def plan_as_dict(plan: Plan, head: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """The plan in plain JSON values, with the words for the sitter beside each set-up.

    ``head`` is what rebuilds the sitter's head; leave it out where nothing of the face may stay.
    """
    content = {
        "format": FORMAT,
        "baseline": {
            "setup": plan.baseline.as_dict(),
            "measures": dict(plan.baseline_measures),
        },
        "setups": [_planned_as_dict(planned) for planned in plan.setups],
        "conflicts": [dataclasses.asdict(conflict) for conflict in plan.conflicts],
        "notes": list(plan.notes),
        "sentences": how_told(plan),
    }
    if head is not None:
        content["head"] = dict(head)
    return _without_nan(content)


def save_plan(path: Path, plan: Plan, head: Mapping[str, Any] | None = None) -> Path:
    """Write the plan file whole or not at all."""
    text = json.dumps(plan_as_dict(plan, head), indent=1, ensure_ascii=False, allow_nan=False)
    return write_atomically(path, text + "\n")


def save_faceless_plan(path: Path, plan: Plan, source: Source | None) -> Path:
    """Write the plan file without a measure of the face, for a sitter who has not said yes.

    Set-ups, words, leeway and reasons stay, and what was wished for.
    """
    content = plan_as_dict(_without_face(plan))
    if source is not None:
        content["source"] = source.as_dict()
    text = json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False)
    return write_atomically(path, text + "\n")


def load_plan_and_head(path: Path) -> tuple[Plan, Head | None]:
    """The plan in a file, and the sitter's head: as kept there, or read again from the frames.

    The head is None where the file tells of neither; PlanFileError where the frames are gone.
    """
    plan, kept = load_plan(path)
    if kept is not None:
        return plan, head_from_dict(kept)
    source = _read_json(path).get("source")
    return plan, source_from_dict(source).head() if source is not None else None


def load_plan(path: Path) -> tuple[Plan, dict[str, Any] | None]:
    """The plan in a file, and what rebuilds the head if the file holds it; else PlanFileError."""
    content = _read_json(path)
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise PlanFileError(
            tr(
                "'{file}' is not a plan of this version; make one with: sitwell plan ... --out "
                "FOLDER.",
                file=path,
            )
        )
    try:
        baseline = content["baseline"]
        plan = _built(
            Plan,
            told_again(content, content.get("sentences", {}))
            | {"baseline": baseline["setup"], "baseline_measures": baseline["measures"]},
        )
    except (
        KeyError,
        TypeError,
        ValueError,
        AttributeError,
        OverflowError,
        RecursionError,
    ) as problem:
        raise PlanFileError(
            tr(
                "The plan '{file}' is damaged near {problem}; make it again with: sitwell plan.",
                file=path,
                problem=problem,
            )
        ) from problem
    head = content.get("head")
    return plan, head if isinstance(head, dict) else None


def _without_face(plan: Plan) -> Plan:
    """The plan without the numbers that were measured on this face.

    How far a pane is from glare stays: it is the glasses' and says that they are worn.
    """
    return dataclasses.replace(
        plan,
        baseline_measures={},
        setups=tuple(
            dataclasses.replace(
                planned,
                measures={n: v for n, v in planned.measures.items() if n.startswith("glare_")},
                gains=tuple(_unmeasured(gain) for gain in planned.gains),
                guards=(),
            )
            for planned in plan.setups
        ),
    )


def _unmeasured(gain: Gain) -> Gain:
    return dataclasses.replace(gain, was=math.nan, becomes=math.nan)


def _planned_as_dict(planned: PlannedSetup) -> dict[str, Any]:
    return dataclasses.asdict(planned) | {
        "setup": planned.setup.as_dict(),
        "words": [
            {"part": word.part, "sentence": word.sentence, "show": word.show}
            for word in sitter_words(planned.setup, planned.light)
        ],
    }


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as problem:
        raise PlanFileError(
            tr(
                "The plan '{file}' can't be opened ({why}); check its name and place.",
                file=path,
                why=problem.strerror,
            )
        ) from problem
    except (ValueError, RecursionError) as problem:
        raise PlanFileError(
            tr(
                "'{file}' is not JSON; give the plan.json that sitwell plan wrote.",
                file=path,
            )
        ) from problem


def _built(kind: Any, value: Any) -> Any:
    """A value of the declared type from plain JSON: dataclasses, tuples and mappings of numbers."""
    if dataclasses.is_dataclass(kind):
        hints = get_type_hints(kind)
        names = [f.name for f in dataclasses.fields(kind) if f.name in value]
        built: Any = kind(**{name: _built(hints[name], value[name]) for name in names})  # type: ignore[operator]
        return built
    if get_origin(kind) is tuple:
        return tuple(_built(get_args(kind)[0], item) for item in value)
    if get_origin(kind) is types.UnionType:
        return value
    if kind is float:
        return math.nan if value is None else float(value)
    if kind in (str, bool, int):
        return kind(value)
    _, each = get_args(kind)
    return {str(name): _built(each, item) for name, item in value.items()}


def _without_nan(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _without_nan(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_without_nan(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value
