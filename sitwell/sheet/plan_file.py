"""A plan as JSON and back, so that the set, the frames and the hand-over read the same plan.

A file with ``head`` describes the sitter's face; whoever keeps it needs their consent. Without one
it holds a ``source``: what the head can be read again from, and no measure of the face.
Quantities that can't be told (glare without glasses, or a face) are ``null``. ``sentences``
says how each sentence was made, so that another language can tell it.
"""

import dataclasses
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sitwell.base.codec import from_plain, json_words, without_nan
from sitwell.base.errors import PlanFileError, SetupError, SitwellError
from sitwell.base.files import write_atomically
from sitwell.base.formats import format_of
from sitwell.base.words import how_told, told_again, tr
from sitwell.brief.request import Brief, SitterBrief, brief_of, brief_words
from sitwell.head.level import head_from_dict
from sitwell.head.surface import Head
from sitwell.scene.setup import refuse_out_of_range
from sitwell.scene.sitter import read_sitter
from sitwell.search.group import GroupPlan, PlannedGroup
from sitwell.search.plan import Gain, Plan, PlannedSetup
from sitwell.sheet.group_words import place_words
from sitwell.sheet.words import sitter_words

FORMAT, GROUP_FORMAT = format_of("plan"), format_of("group")
# What a sitter's head is read from, and what a plan calls some of it, from before briefs.
SOURCE = ("frames", "scan", "marks", "level", "face", "faces", "focal_equivalent_mm",
          "in_the_way", "without")  # fmt: skip
IN_PLAN = {"frames": "photos", "focal_equivalent_mm": "focal_35_mm"}


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
    plain: dict[str, Any] = without_nan(content)
    return plain


def save_plan(path: Path, plan: Plan, head: Mapping[str, Any] | None = None) -> Path:
    """Write the plan file whole or not at all."""
    return write_atomically(path, json_words(plan_as_dict(plan, head)) + "\n")


def save_faceless_plan(path: Path, plan: Plan, source: SitterBrief | None) -> Path:
    """Write the plan file without a measure of the face, for a sitter who has not said yes.

    Set-ups, words, leeway and reasons stay, and what was wished for.
    """
    content = plan_as_dict(_without_face(plan))
    if source is not None:
        content["source"] = _source_words(source)
    return write_atomically(path, json_words(content) + "\n")


def load_plan_and_head(path: Path) -> tuple[Plan, Head | None]:
    """The plan in a file, and the sitter's head: as kept there, or read again from the frames.

    The head is None where the file tells of neither; PlanFileError where the frames are gone.
    """
    plan, kept = load_plan(path)
    if kept is not None:
        return plan, head_from_dict(kept)
    source = _read_json(path).get("source")
    return plan, read_sitter(source_of(source)).head if source is not None else None


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
        for setup in (baseline["setup"], *(planned["setup"] for planned in content["setups"])):
            if not isinstance(setup, Mapping):
                raise TypeError(json.dumps(setup)[:40])
        plan = from_plain(
            told_again(content, content.get("sentences", {}))
            | {"baseline": baseline["setup"], "baseline_measures": baseline["measures"]},
            Plan,
        )
        for setup in (plan.baseline, *(planned.setup for planned in plan.setups)):
            refuse_out_of_range(setup)
    except (
        SetupError,
        KeyError,
        TypeError,
        ValueError,
        AttributeError,
        OverflowError,
        RecursionError,
    ) as problem:
        for cause in (problem, problem.__cause__):
            if isinstance(cause, SetupError):
                raise PlanFileError(
                    tr(
                        "The plan '{file}' holds a set-up that can't be: {problem}",
                        file=path,
                        problem=str(cause),
                    )
                ) from problem
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
    return dataclasses.replace(gain, was=math.nan, becomes=math.nan, likely=None)


def _planned_as_dict(planned: PlannedSetup) -> dict[str, Any]:
    return dataclasses.asdict(planned) | {
        "setup": planned.setup.as_dict(),
        "words": [
            {"part": word.part, "sentence": word.sentence, "show": word.show}
            for word in sitter_words(planned.setup, planned.light, planned.expressions)
        ],
    }


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
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


def _source_words(sitter: SitterBrief) -> dict[str, Any]:
    """What a head is read from, in plain words: files, and nothing of the face."""
    bare = SitterBrief(**{name: getattr(sitter, name) for name in SOURCE})
    if not isinstance(bare.marks, Path):  # places on a face
        bare = dataclasses.replace(bare, marks=None)
    words = brief_words(Brief(sitters=(bare,)))["sitter"][0]
    return {IN_PLAN.get(name, name): value for name, value in words.items()}


def source_of(content: Any) -> SitterBrief:
    """What a plan file says its head is read from; PlanFileError where that is damaged or gone."""
    try:
        called = {there: name for name, there in IN_PLAN.items()}
        words = {called.get(name, name): value for name, value in content.items()}
        sitter = brief_of({"sitter": [words]}).sitters[0]
        missing = [path for path in sitter.files() if not path.is_file()]
    except (SitwellError, AttributeError, ValueError, OSError) as problem:
        raise PlanFileError(
            tr(
                "What the plan's head was read from is damaged near {problem}; plan anew.",
                problem=problem,
            )
        ) from problem
    if missing or not sitter.files():
        raise PlanFileError(
            tr(
                "The sitter's head is read from '{file}', which is not there any more; put it "
                "back, or plan anew from the frames.",
                file=missing[0] if missing else "",
            )
        )
    return sitter


def group_as_dict(plan: GroupPlan, *, measured: bool = True) -> dict[str, Any]:
    """A plan for several in plain JSON values; without ``measured`` nothing tells of a face."""
    plain: dict[str, Any] = without_nan(
        {
            "format": GROUP_FORMAT,
            "sitters": list(plan.labels),
            "baseline": {
                "setup": plan.baseline.shared.as_dict(),
                "height_step": round(plan.baseline_height_step, 3),
            },
            "setups": [_group_setup_as_dict(plan, planned, measured) for planned in plan.setups],
            "conflicts": [dataclasses.asdict(conflict) for conflict in plan.conflicts],
            "notes": list(plan.notes),
        }
    )
    return plain


def _group_setup_as_dict(plan: GroupPlan, planned: PlannedGroup, measured: bool) -> dict[str, Any]:
    setup = planned.setup
    of_a_face = () if measured else ("measures", "gains", "guards")
    return {
        "name": planned.name,
        "setup": setup.shared.as_dict(),
        "lying": setup.lying,
        "height_step": round(planned.height_step, 3),
        "guards": [dataclasses.asdict(guard) for guard in planned.guards],
        "leeway": [dataclasses.asdict(row) for row in planned.leeway],
        "notes": list(planned.notes),
        "sitters": [
            {key: value for key, value in _planned_as_dict(part).items() if key not in of_a_face}
            | {
                "name": plan.labels[i],
                "place": dataclasses.asdict(setup.places[i]) | {"words": place_words(setup, i)},
            }
            for i, part in enumerate(planned.planned)
        ],
    }
