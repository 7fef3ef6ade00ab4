"""The whole tool on one screen: read, plan, print, watch, sort.

A lone sitter and several go the same way: a ``Brief`` in, sheets out.
"""

import re
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sitwell.base.codec import json_words
from sitwell.base.errors import UsageError
from sitwell.base.files import make_atomically, write_atomically
from sitwell.base.words import language, spoken, tr
from sitwell.brief.kit import DEFAULT_KIT, Kit, load_kit
from sitwell.brief.place_light import Daylight
from sitwell.brief.request import Brief, SitterBrief
from sitwell.brief.room import DEFAULT_ROOM, Room, load_room
from sitwell.face.clip import frames_of, open_clip
from sitwell.head.stills import Still, choose_stills
from sitwell.head.surface import Head, with_expression
from sitwell.likeness.portrayal import Portrayal, portrayal_of
from sitwell.scene.daylight_level import own_light
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.id_photo import aspect_of, is_id_format, looks_like_id
from sitwell.scene.measures import Evaluator
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import (
    Sitter,
    possible_heads,
    read_sitter,
    sitter_kept,
    unseen_features,
)
from sitwell.scene.sun import room_in_sun
from sitwell.scene.sun_typed import parse_place, parse_time
from sitwell.search.group import GroupPlan, GroupSetup
from sitwell.search.group_search_space import GroupSitter
from sitwell.search.locks import refuse_locks
from sitwell.search.plan import PlannedSetup
from sitwell.search.planner import make_group_plan
from sitwell.search.sentences import NOTE_ID_PICTURE
from sitwell.search.spread import HEADS
from sitwell.sheet.pdf import check_paper
from sitwell.sheet.plan_file import (
    group_as_dict,
    load_plan_and_head,
    save_faceless_plan,
    save_plan,
)
from sitwell.sheet.set_sheet import Look, Means, draw_setup, write_set_sheet
from sitwell.shoot.choice import choose_setup
from sitwell.shoot.frame_facts import Expected
from sitwell.shoot.journal import journal_path
from sitwell.shoot.live import Checked, live_for, watch_and_check
from sitwell.sort.rank import RankedBurst
from sitwell.sort.reading import Held
from sitwell.sort.sorting import sort_folder

Progress = Callable[[float, str], None]
SLUG = re.compile(r"[^\w-]+", re.UNICODE)


@dataclass(frozen=True, slots=True, kw_only=True)
class SittingPlan:
    """A brief, its sitters as read, kit and room as they were found, and what was planned."""

    brief: Brief
    sitters: tuple[Sitter, ...]
    kit: Kit
    room: Room
    found: GroupPlan

    def daylights(self) -> tuple[Daylight | None, ...]:
        """For each set-up the light that stays, with what its place fills; None for the kit's."""
        shared = (planned.setup.shared for planned in self.found.setups)
        return tuple(own_light(self.kit, self.room, setup) for setup in shared)


def read(brief: Brief, recall: Callable[[SitterBrief], Sitter] | None = None) -> tuple[Sitter, ...]:
    """Every sitter of a brief as read; ``recall`` gives those whose head is in the records."""
    recall = recall or _recalled
    return tuple(
        recall(sitter) if sitter.record else read_sitter(sitter) for sitter in brief.sitters
    )


def _recalled(asked: SitterBrief) -> Sitter:
    """A sitter from the records in their usual place; StoreError where no head may be used."""
    from sitwell.store.sittings import head_values
    from sitwell.ui.records_door import Door

    return sitter_kept(head_values(Door().head(asked.record)), asked)


def plan(
    brief: Brief,
    sitters: Sequence[Sitter],
    *,
    looks: int | None = None,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
    on_strong: Callable[[GroupSetup], None] | None = None,
) -> SittingPlan:
    """Up to three set-ups for everybody who sits, in the brief's order.

    ``looks`` is about how many set-ups are looked at; as many as usual if left.
    ``on_strong`` is given the set-up that does the most as soon as it is found.
    """
    kit, room = kit_of(brief), room_of(brief)
    rim = {"rim": "on"} if brief.rim else {}
    found = make_group_plan(
        [
            GroupSitter(
                label=label,
                evaluator=(evaluator := _evaluator(asked, sitter)),
                wishes=asked.wishes,
                comfort=asked.comfort(),
                held=asked.locks,
                possible=partial(_possible, asked, sitter, evaluator),
                expressive=partial(_expressive, asked, sitter.head, evaluator),
                unseen=unseen_features(sitter.reading),
                notes=_read_notes(sitter),
            )
            for label, asked, sitter in zip(brief.labels, brief.sitters, sitters, strict=True)
        ],
        kit,
        room,
        brief.framing,
        aspect_of(brief.aspect),
        height=brief.height_difference,
        locked=rim | dict(brief.locks),
        evaluations=looks,
        progress=progress,
        stop=stop,
        on_strong=on_strong,
    )
    if is_id_format(brief.aspect) and not looks_like_id(found.baseline.shared):  # else it says so
        notes = (tr(NOTE_ID_PICTURE), *found.notes)
        found = replace(found, notes=notes)
        if found.is_of_one:
            found = replace(found, parts=(replace(found.parts[0], notes=notes),))
    return SittingPlan(brief=brief, sitters=tuple(sitters), kit=kit, room=room, found=found)


def check(brief: Brief) -> None:
    """Refuse at once what would only be found after reading: paper, kit, room, sun and set-up."""
    check_paper(brief.paper)
    kit_of(brief)
    room_of(brief)
    for locks in (brief.locks, *(sitter.locks for sitter in brief.sitters)):
        refuse_locks(locks)
    Setup(framing=brief.framing, aspect=aspect_of(brief.aspect))


def write_sheets(made: SittingPlan, folder: Path | str, *, agreed: bool = False) -> list[Path]:
    """For each set-up its sheet as PDF and PNG, and what ``sitwell watch`` takes; gives the paths.

    The sheets show the sitters as their frames have them, or drawn: where those can't tell, where
    the brief asks for plain heads, and where the frames are gone. Only with ``agreed``, a lone
    sitter's yes, does the plan file measure a face.
    """
    brief, found, folder = made.brief, made.found, Path(folder)
    with spoken(brief.language or language()):
        means = Means(kit=made.kit, room=made.room, paper=brief.paper, label=brief.labels[0])
        looks = [_look(sitter, plain=brief.plain_head) for sitter in made.sitters]
        files: list[Path] = []
        for planned in found.setups:
            drawn = draw_setup(found, planned, looks, means)
            for discreet in (False, True) if brief.discreet else (False,):
                name = f"{planned.name}-moves-only" if discreet else planned.name
                files += [
                    write_set_sheet(
                        folder / f"{name}{suffix}", found, planned, drawn, means, discreet=discreet
                    )
                    for suffix in (".pdf", ".png")
                ]
        # The plan files come last: where they are, the sheets are whole.
        return [*_write_plans(made, folder, agreed=agreed), *files]


def _write_plans(made: SittingPlan, folder: Path, *, agreed: bool) -> list[Path]:
    """One plan of a lone sitter, or everybody's and one for each; see ``save_faceless_plan``."""
    found = made.found
    if found.is_of_one:
        path, sitter = folder / "plan.json", made.sitters[0]
        if agreed:
            return [save_plan(path, found.parts[0], sitter.kept)]
        return [save_faceless_plan(path, found.parts[0], sitter.brief)]
    own = [
        save_faceless_plan(folder / f"plan-{number}-{_slug(label)}.json", part, sitter.brief)
        for number, (label, part, sitter) in enumerate(
            zip(found.labels, found.parts, made.sitters, strict=True), start=1
        )
    ]
    text = json_words(group_as_dict(found, measured=False))
    return [write_atomically(folder / "group.json", text + "\n"), *own]


def watch_folder(
    folder: Path,
    made: SittingPlan | Path,
    *,
    setup: str = "",
    sitter: int = 0,
    state: Path | None = None,
    stop: threading.Event | None = None,
) -> Iterator[Checked]:
    """Each frame that lands, checked against a set-up of a plan or a plan file, until ``stop``.

    ``setup`` is a name or a number from 1, the balanced one if left; ``sitter`` counts from 0.
    What was seen is noted in the folder ``state``, or forgotten at the end.
    """
    planned, head = _held_against(made, setup, sitter)
    with _state(state) as place:
        yield from watch_and_check(
            folder, journal_path(place, folder), live_for(planned, head), stop
        )


def sort_frames(
    folder: Path,
    made: SittingPlan | Path | None = None,
    *,
    setup: str = "",
    sitter: int = 0,
    state: Path | None = None,
    workers: int | None = None,
) -> Iterator[RankedBurst]:
    """The bursts of a folder in order of time, the best frame of each put forward with its reason.

    Held against a plan, if there is one; the rest is as for ``watch_folder``.
    """
    planned, head = (None, None) if made is None else _held_against(made, setup, sitter)
    held = Held(head=head, setup=planned.setup) if planned and head else None
    expected = Expected.of(planned) if planned else None
    with _state(state) as place:
        yield from sort_folder(folder, place / "sort.sqlite", expected, held, workers)


def rows(made: SittingPlan) -> list[dict[str, Any]]:
    """The plan as a table: a row for each set-up and sitter, numbers and words by name.

    A set-up's quantities and what each wish gains, in noticeable steps; ready for a data frame.
    """
    return [
        {
            "setup": planned.name,
            "sitter": label,
            **own.setup.as_dict(),
            **{f"gain_{gain.measure}": gain.gain for gain in own.gains},
            "guards_broken": ", ".join(guard.name for guard in own.guards if not guard.holds),
        }
        for planned in made.found.setups
        for label, own in zip(made.found.labels, planned.planned, strict=True)
    ]


def picture(head: Head, setup: Setup, height_px: int = 600) -> NDArray[np.uint8]:
    """A head drawn as the set-up's camera sees it, (H, W, 3), sRGB, in its own format."""
    return Portrayal(head).portrait(setup, height_px).pixels()


def stills(film: Path, folder: Path, most: int, progress: Progress) -> list[tuple[Path, Still]]:
    """Write the frames of a film that show the head best into a folder; nothing is replaced."""
    clip = open_clip(film)
    chosen = choose_stills(clip, most, progress)
    paths = {still.number: folder / f"{film.stem}-{still.number:05d}.jpg" for still in chosen}
    for path in paths.values():
        if path.exists():
            raise UsageError(
                tr("'{file}' is there already; give another folder with --out.", file=path)
            )
    for number, rgb in frames_of(clip, list(paths)):
        make_atomically(paths[number], partial(Image.fromarray(rgb).save, quality=95))
    return [(paths[still.number], still) for still in chosen]


def kit_of(brief: Brief) -> Kit:
    """The kit of a brief."""
    if isinstance(brief.kit, Kit):
        return brief.kit
    return load_kit(brief.kit) if brief.kit else DEFAULT_KIT


def room_of(brief: Brief) -> Room:
    """The room of a brief, in the sun of its place and time where it names them; "" is now."""
    room = brief.room
    if not isinstance(room, Room):
        room = load_room(room) if room else DEFAULT_ROOM
    if not brief.sun_place:
        if brief.sun_time:
            raise UsageError(
                tr("--sun-time needs a place; give its degrees with --sun-place as well.")
            )
        return room
    when = parse_time(brief.sun_time) if brief.sun_time else datetime.now().astimezone()
    return room_in_sun(room, parse_place(brief.sun_place), when)


def _evaluator(brief: SitterBrief, sitter: Sitter) -> Evaluator:
    return Evaluator(sitter.head, Glasses() if brief.wears_glasses else None)


def _possible(brief: SitterBrief, sitter: Sitter, fitted: Evaluator) -> list[Evaluator]:
    """What tells the measures of other heads that the frames leave possible."""
    worn = Glasses() if brief.wears_glasses else None
    heads = possible_heads(sitter.reading, HEADS)
    return [Evaluator(head, worn, like=fitted) for head in heads]


def _expressive(
    brief: SitterBrief, head: Head, at_rest: Evaluator, expression: Mapping[str, float]
) -> Evaluator | None:
    """What tells the measures of the head with an expression; None for one not of our sliders."""
    moved = with_expression(head, expression)
    worn = Glasses() if brief.wears_glasses else None
    return None if moved is None else Evaluator(moved, worn, like=at_rest)


def _read_notes(sitter: Sitter) -> tuple[str, ...]:
    """What was said of the frames: of all together, then of each."""
    reading = sitter.reading
    return (*reading.notes, *(note for frame in reading.frames for note in frame.notes))


def _look(sitter: Sitter, *, plain: bool) -> Look:
    portrayal, note = (Portrayal(sitter.head), "") if plain else portrayal_of(sitter)
    return Look(head=sitter.head, portrayal=portrayal, note=note)


def _slug(label: str) -> str:
    return SLUG.sub("-", label).strip("-") or "sitter"


def _held_against(
    made: SittingPlan | Path, setup: str, sitter: int
) -> tuple[PlannedSetup, Head | None]:
    if isinstance(made, Path):
        plan, head = load_plan_and_head(made)
    else:
        plan, head = made.found.parts[sitter], made.sitters[sitter].head
    return choose_setup(plan, setup or None), head


@contextmanager
def _state(folder: Path | None) -> Iterator[Path]:
    if folder is not None:
        yield folder
        return
    with tempfile.TemporaryDirectory(prefix="sitwell-") as passing:
        yield Path(passing)
