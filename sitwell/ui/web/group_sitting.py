"""Several sitters of one sitting: planned at once, and kept in step while one of them is in hand.

What is everybody's lies beside the papers with each sitter's own plan; both go when leave is taken
back, or when one of them is planned alone again.
"""

import asyncio
import json
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

from sitwell.base.codec import to_plain
from sitwell.base.errors import SetupError, SitwellError, WebError
from sitwell.base.files import write_atomically
from sitwell.base.formats import named
from sitwell.base.words import how_told, told_again, tr
from sitwell.likeness.portrayal import Portrait
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup
from sitwell.search.moves import POSE_MOVES
from sitwell.search.plan import Conflict, GuardState, Leeway, Plan
from sitwell.sheet.set_sheet import draw_group
from sitwell.store.record_bytes import from_plain
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.paper import Sitting
from sitwell.ui.web.planning import Model, plan_brief, sitter_with
from sitwell.ui.web.server_state import ServerState

PAPER = "plan-group.json"
SHARED = ("camera_height_mm", "distance_mm", "focal_mm", "f_number", "key_azimuth_deg",
          "key_elevation_deg", "key_distance_mm", "key_size_mm", "fill_ratio",
          "background_stops")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _PaperSetup:
    name: str
    setup: GroupSetup
    guards: tuple[GuardState, ...]
    leeway: tuple[Leeway, ...]
    height_step: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paper:
    labels: tuple[str, ...]
    mark: str
    baseline: GroupSetup
    baseline_height_step: float
    setups: tuple[_PaperSetup, ...]
    conflicts: tuple[Conflict, ...]
    notes: tuple[str, ...]


def job_key(sitting: Sitting) -> str:
    """The name of the group's job."""
    return f"{sitting.id}/group"


def missing(server: ServerState, sitting: Sitting) -> list[int]:
    """The sitters without a head yet; their frames are read if there are any."""
    found = []
    for index in range(len(sitting.sitters)):
        view = turned_to(sitting, index)
        if server.head(view) is not None:
            server.begin_looking(view)
            continue
        found.append(index)
        if server.job(view, "read") is None:  # once; what can't be read is told on its own page
            server.begin_reading(view)
    return found


def begin_group(
    server: ServerState,
    sitting: Sitting,
    labels: Sequence[str],
    held: Mapping[int, Mapping[str, float]],
    locked: Mapping[str, float | str],
) -> None:
    """Search set-ups for everybody; the old plan stays until the new one is there."""
    views = [turned_to(sitting, index) for index in range(len(sitting.sitters))]
    known = [server.head(view) for view in views]
    heads = [head for head in known if head is not None]
    if len(heads) < len(views):
        return
    asked = server.asked(sitting, *sitting.sitters)
    brief = replace(
        asked,
        sitters=tuple(
            replace(sitter, name=label, locks=dict(held.get(index, {})))
            for index, (label, sitter) in enumerate(zip(labels, asked.sitters, strict=True))
        ),
        locks=dict(locked),
    )
    marks = [server.brief_mark(view) for view in views]
    mark = _mark(marks, sitting)

    def done(plan: GroupPlan) -> None:
        for view, part, head, signature in zip(views, plan.parts, heads, marks, strict=True):
            server.keep_plan(view, part, head[1], signature)
        server.groups[job_key(sitting)] = mark, plan
        path = server.shelf.place(sitting.id) / PAPER
        paper = _paper(plan, mark)
        content = named("group papers", to_plain(paper) | {"sentences": how_told(paper)})
        write_atomically(path, json.dumps(content))
        path.chmod(0o600)
        server.shelf.changed(sitting, "search")

    sitters = tuple(sitter_with(*head) for head in heads)
    server.workshop.start(job_key(sitting), done, plan_brief, brief, sitters)


def group_plan(server: ServerState, sitting: Sitting) -> GroupPlan | None:
    """What was planned for everybody, from memory or from beside the papers."""
    if len(sitting.sitters) < 2:
        return None
    key, path = job_key(sitting), server.shelf.place(sitting.id) / PAPER
    if key not in server.groups and path.exists():
        try:
            content = json.loads(path.read_text(encoding="utf-8"))
            plain = told_again(content, content.pop("sentences", {}))
            paper = from_plain(plain, _Paper)
            parts = [
                server.plan(turned_to(sitting, index)) for index in range(len(sitting.sitters))
            ]
            server.groups[key] = paper.mark, _with_parts(paper, parts)
        except (SitwellError, ValueError, OSError, KeyError, TypeError, AttributeError):
            path.unlink(missing_ok=True)  # of another version, or of other sitters
    found = server.groups.get(key)
    return found[1] if found else None


def is_stale(server: ServerState, sitting: Sitting) -> bool:
    """Whether anything has changed since everybody was planned."""
    marks = [server.brief_mark(turned_to(sitting, i)) for i in range(len(sitting.sitters))]
    found = server.groups.get(job_key(sitting))
    return found is not None and found[0] != _mark(marks, sitting)


def drop_group(server: ServerState, sitting: Sitting) -> None:
    """One of them is planned alone: what was planned for everybody no longer holds."""
    server.groups.pop(job_key(sitting), None)
    (server.shelf.place(sitting.id) / PAPER).unlink(missing_ok=True)


def open_group(server: ServerState, sitting: Sitting, name: str) -> None:
    """Open one set-up for everybody."""
    for sitter in sitting.sitters:
        sitter.chosen = name


def in_hand(server: ServerState, sitting: Sitting, name: str) -> GroupSetup | None:
    """A set-up of the group as it stands in hand, with what was moved for anybody."""
    plan = group_plan(server, sitting)
    planned = next((p for p in plan.setups if p.name == name), None) if plan else None
    if planned is None:
        return None
    setup = planned.setup
    for index in range(len(sitting.sitters)):
        view = turned_to(sitting, index)
        own = server.in_hand(view) if view.sitter.chosen == name else None
        if own is not None and own != setup.own(index):
            try:
                setup = setup.with_own(index, own)
            except SetupError:
                continue
    return setup


def share(server: ServerState, sitting: Sitting, name: str, setup: Setup) -> None:
    """What the sitter in hand changed of camera and light changes for everybody."""
    group = in_hand(server, sitting, name)
    if group is None:
        return
    try:
        moved = group.with_own(sitting.at, setup)
    except SetupError:
        return  # a camera in the middle of the group; the sitter in hand has it alone
    for index, sitter in enumerate(sitting.sitters):
        if index != sitting.at and sitter.chosen == name:
            own = moved.own(index)
            mine = sitter.moved.setdefault(name, {})
            mine |= {move: getattr(own, move) for move in SHARED}
            mine |= {move: float(group.poses[index][move]) for move in POSE_MOVES if move in mine}


def held_in(
    server: ServerState, sitting: Sitting
) -> tuple[dict[int, dict[str, float]], dict[str, float | str]]:
    """What is ticked to be held: each sitter's own moves, and what is everybody's, as in hand."""
    own: dict[int, dict[str, float]] = {}
    shared: dict[str, float | str] = {}
    for index, sitter in enumerate(sitting.sitters):
        setup = server.in_hand(turned_to(sitting, index))
        group = in_hand(server, sitting, sitter.chosen)
        for move in sitter.locked:
            if move in POSE_MOVES and setup is not None:
                own.setdefault(index, {})[move] = float(getattr(setup, move))
            elif group is not None:
                shared[move] = getattr(group.shared, move)
    return own, shared


async def group_picture(
    server: ServerState, sitting: Sitting, name: str, height_px: int
) -> Portrait:
    """Everybody in a set-up as planned, or "baseline"; WebError if there is none yet."""
    plan, models = group_plan(server, sitting), models_of(server, sitting)
    setups = {planned.name: planned.setup for planned in plan.setups} if plan else {}
    setup = plan.baseline if plan and name == "baseline" else setups.get(name)
    if setup is None or not models:
        raise WebError(tr("There is no such view yet; open the plan again."))
    return await asyncio.to_thread(_drawn, models, setup, height_px)


def sheet_of_all(
    server: ServerState, sitting: Sitting, name: str
) -> tuple[list[Model], GroupPlan, PlannedGroup, GroupSetup]:
    """What everybody's sheet of a set-up, as it is in hand, is drawn from; else WebError."""
    plan, models = group_plan(server, sitting), models_of(server, sitting)
    planned = next((p for p in plan.setups if p.name == name), None) if plan else None
    setup = in_hand(server, sitting, name)
    if plan is None or planned is None or setup is None or not models:
        raise WebError(tr("There is no such view yet; open the plan again."))
    return models, plan, planned, setup


def models_of(server: ServerState, sitting: Sitting) -> list[Model]:
    """Everybody's head to look at; none while one of them is missing."""
    models = [server.model(turned_to(sitting, i)) for i in range(len(sitting.sitters))]
    ready = [model for model in models if model is not None]
    return ready if len(ready) == len(models) else []


def _drawn(models: Sequence[Model], setup: GroupSetup, height_px: int) -> Portrait:
    # always in the same order, so that two pictures never wait for one another
    with ExitStack() as drawing:
        portrayals = [drawing.enter_context(model.drawing()) for model in models]
        return draw_group(portrayals, setup, height_px)


def _mark(marks: Sequence[str], sitting: Sitting) -> str:
    tall = [sitter.height_mm for sitter in sitting.sitters]
    return "/".join([*marks, *(str(part) for part in (*sitting.heights, *tall))])


def _paper(plan: GroupPlan, mark: str) -> _Paper:
    return _Paper(
        labels=plan.labels,
        mark=mark,
        baseline=plan.baseline,
        baseline_height_step=plan.baseline_height_step,
        setups=tuple(
            _PaperSetup(
                name=p.name,
                setup=p.setup,
                guards=p.guards,
                leeway=p.leeway,
                height_step=p.height_step,
                notes=p.notes,
            )
            for p in plan.setups
        ),
        conflicts=plan.conflicts,
        notes=plan.notes,
    )


def _with_parts(paper: _Paper, parts: Sequence[Plan | None]) -> GroupPlan:
    known = tuple(part for part in parts if part is not None)
    if len(known) < len(paper.labels) or any(len(p.setups) != len(paper.setups) for p in known):
        raise WebError(tr("The plan of the group and its sitters' plans differ; search again."))
    setups = tuple(
        PlannedGroup(
            name=one.name,
            setup=one.setup,
            planned=tuple(part.setups[at] for part in known),
            guards=one.guards,
            leeway=one.leeway,
            height_step=one.height_step,
            notes=one.notes,
        )
        for at, one in enumerate(paper.setups)
    )
    return GroupPlan(
        labels=paper.labels,
        baseline=paper.baseline,
        baseline_height_step=paper.baseline_height_step,
        setups=setups,
        parts=known,
        conflicts=paper.conflicts,
        notes=paper.notes,
    )
