"""A couple or a group from one file: read everybody, plan together, print one sheet a set-up."""

import dataclasses
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell import flow
from sitwell.base.files import write_atomically
from sitwell.brief.group import GroupBrief, SitterBrief, read_group
from sitwell.brief.kit import DEFAULT_KIT, Kit, load_kit
from sitwell.brief.room import DEFAULT_ROOM, Room, key_light, load_room
from sitwell.scene.daylight import own_light
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import Evaluator
from sitwell.scene.preview import Sculpture
from sitwell.scene.scan import read_scan
from sitwell.scene.together import Standing, draw_together
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup
from sitwell.search.group_goal import HeightWish
from sitwell.search.group_planner import make_group_plan
from sitwell.search.group_stage import GroupSitter
from sitwell.search.locks import parse_locks
from sitwell.sheet.group_page import write_group_sheet
from sitwell.sheet.group_words import place_words
from sitwell.sheet.plan_file import save_faceless_plan
from sitwell.sheet.plan_source import Source
from sitwell.sheet.words import sitter_words

PICTURE_PX = 900
SLUG = re.compile(r"[^\w-]+", re.UNICODE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """A group as read: the brief and each sitter's head, in the brief's order."""

    brief: GroupBrief
    sitters: tuple[flow.Sitter, ...]


def read_together(path: Path) -> Together:
    """Read the group's file and everybody's frames; the error names whose frames don't serve."""
    brief = read_group(path)
    return Together(brief=brief, sitters=tuple(_read(sitter) for sitter in brief.sitters))


def plan_together(
    group: Together,
    *,
    kit: str = "",
    room: str | Room = "",
    framing: str = "head-and-shoulders",
    aspect: str = "4:5",
    locks: Sequence[str] = (),
    progress: flow.Progress | None = None,
) -> GroupPlan:
    """Set-ups for everybody at once, in the words of the command line."""
    sitters = [
        GroupSitter(
            label=brief.name,
            evaluator=Evaluator(sitter.head, Glasses() if _wears(brief) else None),
            wishes=brief.wishes,
            comfort=brief.comfort,
        )
        for brief, sitter in zip(group.brief.sitters, group.sitters, strict=True)
    ]
    return make_group_plan(
        sitters,
        _kit(kit),
        _room(room),
        framing,
        aspect,
        height=HeightWish(direction=group.brief.height_direction, weight=group.brief.height_weight),
        locked=parse_locks(locks),
        progress=progress,
    )


def write_together(
    plan: GroupPlan,
    group: Together,
    folder: Path,
    *,
    kit: str = "",
    room: str | Room = "",
    paper: str = "a4",
    discreet: bool = False,
    plain_head: bool = False,
) -> list[Path]:
    """The group's sheets, each sitter's own plan file for watching, and the plan as JSON.

    Plan files hold no measure of a face; see ``save_faceless_plan``.
    """
    gear, place = _kit(kit), _room(room)
    sculptures = [
        Sculpture(sitter.head) if plain_head else flow.own_skin(sitter)[0]
        for sitter in group.sitters
    ]
    files: list[Path] = []
    for planned in plan.setups:
        picture = group_picture(sculptures, planned.setup, PICTURE_PX)
        light = key_light(gear, place, planned.setup.shared.key_size_mm).kind()
        for moves_only in (False, True) if discreet else (False,):
            name = f"{planned.name}-moves-only" if moves_only else planned.name
            files += [
                write_group_sheet(
                    plan,
                    planned,
                    picture,
                    folder / f"{name}{suffix}",
                    paper=paper,
                    discreet=moves_only,
                    light=light,
                    daylight=own_light(gear, place, planned.setup.shared),
                )
                for suffix in (".pdf", ".png")
            ]
    for number, (label, part, sitter) in enumerate(
        zip(plan.labels, plan.parts, group.sitters, strict=True), start=1
    ):
        name = SLUG.sub("-", label).strip("-") or "sitter"
        files.append(save_faceless_plan(folder / f"plan-{number}-{name}.json", part, sitter.source))
    text = json.dumps(group_as_dict(plan, measured=False), indent=1, ensure_ascii=False)
    return [write_atomically(folder / "group.json", text + "\n"), *files]


def group_picture(
    sculptures: Sequence[Sculpture], setup: GroupSetup, height_px: int
) -> NDArray[np.uint8]:
    """Everybody as the camera will see them in a set-up, (H, W, 3)."""
    distance_mm = setup.shared.distance_mm
    left, top, wide, high = (length / distance_mm for length in setup.picture_mm())
    standing = [
        Standing(sculpture=sculpture, setup=setup.own(i), bearing_deg=setup.bearing_deg(i))
        for i, sculpture in enumerate(sculptures)
    ]
    return draw_together(standing, setup.shared.lens_mm(), (left, top, wide, high), height_px)


def group_as_dict(plan: GroupPlan, *, measured: bool = True) -> dict[str, Any]:
    """The plan in plain JSON values; without ``measured`` nothing tells of a face."""
    return {
        "format": "sitwell group 1",
        "sitters": list(plan.labels),
        "baseline": {"setup": plan.baseline.shared.as_dict(),
                     "height_step": round(plan.baseline_height_step, 3)},
        "setups": [_planned_as_dict(plan, planned, measured) for planned in plan.setups],
        "conflicts": [dataclasses.asdict(conflict) for conflict in plan.conflicts],
        "notes": list(plan.notes),
    }  # fmt: skip


def _planned_as_dict(plan: GroupPlan, planned: PlannedGroup, measured: bool) -> dict[str, Any]:
    setup = planned.setup
    return {
        "name": planned.name,
        "setup": setup.shared.as_dict(),
        "lying": setup.lying,
        "height_step": round(planned.height_step, 3),
        "guards": [dataclasses.asdict(guard) for guard in planned.guards],
        "leeway": [dataclasses.asdict(row) for row in planned.leeway],
        "notes": list(planned.notes),
        "sitters": [
            {
                "name": plan.labels[i],
                "place": dataclasses.asdict(setup.places[i]) | {"words": place_words(setup, i)},
                "setup": part.setup.as_dict(),
                "leeway": [dataclasses.asdict(row) for row in part.leeway],
                "reasons": [dataclasses.asdict(reason) for reason in part.reasons],
                "notes": list(part.notes),
                "words": [
                    {"part": word.part, "sentence": word.sentence, "show": word.show}
                    for word in sitter_words(part.setup, part.light)
                ],
            }
            | (
                {
                    "measures": dict(part.measures),
                    "gains": [dataclasses.asdict(gain) for gain in part.gains],
                    "guards": [dataclasses.asdict(guard) for guard in part.guards],
                }
                if measured
                else {}
            )
            for i, part in enumerate(planned.planned)
        ],
    }


def _read(brief: SitterBrief) -> flow.Sitter:
    if brief.scan is not None:
        return flow.sitter_from_scan(read_scan(brief.scan), Source(scan=brief.scan))
    source = Source(
        photos=brief.frames,
        marks=brief.marks,
        level=brief.level,
        face=brief.face,
        in_the_way=brief.in_the_way,
    )
    return flow.sitter_of(source.read(), source)


def _wears(brief: SitterBrief) -> bool:
    return brief.glasses or any(wish.feature == "glasses" for wish in brief.wishes)


def _kit(kit: str) -> Kit:
    return load_kit(kit) if kit else DEFAULT_KIT


def _room(room: str | Room) -> Room:
    if isinstance(room, Room):
        return room
    return load_room(room) if room else DEFAULT_ROOM
