"""What the server keeps between pages: sittings, long jobs, and what they found.

Papers are kept on the disk; what was read of a face is kept in memory only and read again when it
is needed, and a plan lies beside the papers it was made from.
"""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from nicegui import background_tasks

from sitwell.base.errors import SitwellError, WebError
from sitwell.base.words import tr
from sitwell.brief.request import Brief, SitterBrief
from sitwell.head.level import head_from_dict
from sitwell.head.surface import Head
from sitwell.likeness.portrayal import Portrait
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupPlan
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet.plan_file import load_plan, save_plan
from sitwell.shoot.journal import journal_path
from sitwell.store.records import Returning
from sitwell.ui.records_door import Door
from sitwell.ui.web import brief
from sitwell.ui.web.change_marks import brief_mark, frames_mark, mark_of
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.face_reading import FaceRead, FrameWork, read_face
from sitwell.ui.web.folder_watch import FolderWatch
from sitwell.ui.web.jobs import Job, Workshop
from sitwell.ui.web.own_gear import OwnGear
from sitwell.ui.web.page_likenesses import PageLikenesses, turned_to
from sitwell.ui.web.paper import SitterNote, Sitting
from sitwell.ui.web.passes import Passes
from sitwell.ui.web.planning import Model, live_check, plan_brief, sitter_with
from sitwell.ui.web.practice import Practice, Practices
from sitwell.ui.web.returning_sitter import fill_in
from sitwell.ui.web.sorting import Sorted, SortWork, sort_frames

PICTURE_WAITS = 50  # tenths of a second


@dataclass(slots=True, kw_only=True)
class ServerState:
    """The one server's worth of state, shared by all pages and tabs."""

    shelf: Shelf
    workshop: Workshop
    door: Door = field(default_factory=Door)
    passes: Passes | None = None  # of other devices, where any may come
    # what needs a head that is set up to be looked at stays in this process
    page_jobs: Workshop = field(default_factory=lambda: Workshop(inline=True))
    _readings: dict[str, tuple[str, FaceRead]] = field(default_factory=dict)
    _heads: dict[str, tuple[str, Head, Mapping[str, Any]]] = field(default_factory=dict)
    _models: dict[str, tuple[Head, bool, Model]] = field(default_factory=dict)
    _plans: dict[str, Plan] = field(default_factory=dict)
    groups: dict[str, tuple[str, GroupPlan]] = field(default_factory=dict)
    _likenesses: PageLikenesses = field(default_factory=PageLikenesses)
    _lookouts: dict[str, FolderWatch] = field(default_factory=dict)
    _sorted: dict[str, Sorted] = field(default_factory=dict)
    practices: Practices = field(default_factory=Practices)
    watch_trouble: dict[str, str] = field(default_factory=dict)
    _being_read: dict[str, str] = field(default_factory=dict)
    _being_made: set[str] = field(default_factory=set)

    @property
    def gear(self) -> OwnGear:
        """Saved kits and rooms, as they lie on the disk now."""
        return OwnGear(self.shelf.folder)

    def key(self, sitting: Sitting, job: str) -> str:
        """The name of a job for the sitter in hand."""
        return f"{sitting.id}/{sitting.at}/{job}"

    def job(self, sitting: Sitting, name: str) -> Job | None:
        """The latest job of that name for the sitter in hand."""
        return self.workshop.jobs.get(self.key(sitting, name))

    def reading(self, sitting: Sitting) -> FaceRead | None:
        """What was read of the sitter in hand, if it is of these frames and marks."""
        found = self._readings.get(self.key(sitting, "read"))
        return found[1] if found and found[0] == frames_mark(sitting.sitter) else None

    def begin_reading(self, sitting: Sitting) -> None:
        """Read the frames of the sitter in hand, once leave was given."""
        sitter, key = sitting.sitter, self.key(sitting, "read")
        if not sitting.consent_at or not sitter.frames:
            return
        signature = frames_mark(sitter)
        if self.workshop.running(key) and self._being_read.get(key) == signature:
            return
        # frames or marks have changed: what is being read is out of date
        self.workshop.stop(key)
        self._being_read[key] = signature
        mine = turned_to(sitting, sitting.at)

        def done(read: FaceRead) -> None:
            self._readings[key] = signature, read
            if not sitter.level_said and sitter.level != read.level:
                sitter.level = read.level
                self.shelf.write(sitting)  # each page looks for readings itself
            if read.head is not None:
                self._heads[self.key(mine, "head")] = signature, read.head, read.kept
            self.begin_model(mine)

        choose = not sitter.level_said
        self.workshop.start(key, done, read_face, self._to_read(sitting), _frames(sitter), choose)

    def head(self, sitting: Sitting) -> tuple[Head, Mapping[str, Any]] | None:
        """The head of the sitter in hand and what rebuilds it: as read, or kept with the plan."""
        key, signature = self.key(sitting, "head"), frames_mark(sitting.sitter)
        if key not in self._heads and sitting.sitter.head_of == signature:
            self.plan(sitting)
        found = self._heads.get(key)
        return (found[1], found[2]) if found and found[0] == signature else None

    def model(self, sitting: Sitting) -> Model | None:
        """The sitter's head to look at; None before it is read and set up."""
        made, glasses = self._models.get(self.key(sitting, "model")), sitting.sitter.glasses
        known = self.head(sitting)
        if made is None or known is None or made[0] is not known[0] or made[1] != glasses:
            return None
        return made[2]

    def begin_looking(self, sitting: Sitting) -> None:
        """See to it that there will be a model: read the frames if need be, or set the head up."""
        if self.head(sitting) is None:
            self.begin_reading(sitting)
        elif (model := self.model(sitting)) is None:
            self.begin_model(sitting)
        elif self.plan(sitting) is not None and sitting.consent_at:
            self._likenesses.show(
                self.workshop,
                self.key(sitting, "likeness"),
                frames_mark(sitting.sitter),
                model,
                self._to_read(sitting),
            )

    def begin_model(self, sitting: Sitting) -> None:
        """Set the head up for looking, in a thread; it takes a second or two."""
        known, key, glasses = self.head(sitting), self.key(sitting, "model"), sitting.sitter.glasses
        if known is None or key in self._being_made:
            return
        head, _ = known

        self._being_made.add(key)

        async def make() -> None:
            try:
                model = await asyncio.to_thread(Model, head, glasses)
                self._models[key] = head, glasses, model
            finally:
                self._being_made.discard(key)

        background_tasks.create(make())

    def plan(self, sitting: Sitting) -> Plan | None:
        """The plan of the sitter in hand, from memory or from beside the papers."""
        key = self.key(sitting, "plan")
        if key not in self._plans and (path := self.plan_path(sitting)).exists():
            try:
                plan, kept = load_plan(path)
                if kept:
                    head = head_from_dict(kept)
                    self._heads[self.key(sitting, "head")] = sitting.sitter.head_of, head, kept
                self._plans[key] = plan
            except SitwellError:
                path.unlink()  # of another version: it can only be made anew
        return self._plans.get(key)

    def plan_mark(self, sitting: Sitting) -> str:
        """Changes whenever the plan or its head does, for the browser's memory of pictures."""
        sitter, model = sitting.sitter, self.model(sitting)
        pictured = model is not None and model.has_likeness
        return mark_of(sitter.planned, sitter.glasses, id(self.plan(sitting)), pictured)

    def hand_mark(self, sitting: Sitting) -> str:
        """Changes whenever the set-up in hand, or how it is drawn, does."""
        return mark_of(self.plan_mark(sitting), repr(self.in_hand(sitting)))

    async def portrait(self, sitting: Sitting, name: str, height_px: int) -> Portrait:
        """A planned set-up, or "baseline", as the camera will see it; WebError if there is none.

        A head that was just read anew is waited for while it is set up.
        """
        plan, model = self.plan(sitting), self.model(sitting)
        for _ in range(PICTURE_WAITS):
            if plan is None or model is not None:
                break
            await asyncio.sleep(0.1)
            model = self.model(sitting)
        setups: dict[str, Setup | None] = {p.name: p.setup for p in plan.setups} if plan else {}
        if plan is not None:
            setups |= {"baseline": plan.baseline, "in-hand": self.in_hand(sitting)}
        setup = setups.get(name)
        if setup is None or model is None:
            raise WebError(tr("There is no such view yet; open the plan again."))
        return await asyncio.to_thread(model.portrait, setup, height_px)

    def plan_is_stale(self, sitting: Sitting) -> bool:
        """Whether wishes, limits, kit, room or frames have changed since the plan was made."""
        return sitting.sitter.planned != brief_mark(sitting)

    def begin_plan(self, sitting: Sitting, locked: Mapping[str, float | str]) -> None:
        """Search set-ups for the sitter in hand; the old plan stays until the new one is there."""
        known = self.head(sitting)
        if known is None:
            return
        mine, signature = turned_to(sitting, sitting.at), brief_mark(sitting)
        asked = replace(self.asked(sitting, sitting.sitter), locks=dict(locked))

        def done(found: GroupPlan) -> None:
            self.keep_plan(mine, found.parts[0], known[1], signature)
            self.shelf.changed(sitting, "search")

        self.workshop.start(
            self.key(sitting, "plan"), done, plan_brief, asked, (sitter_with(*known),)
        )

    def asked(self, sitting: Sitting, *sitters: SitterNote) -> Brief:
        """What is asked for everybody who sits, or for some of them."""
        return brief.asked(sitting, self.shelf.frames(sitting), sitters)

    def sitter_asked(self, sitting: Sitting) -> SitterBrief:
        """What is asked for the sitter in hand."""
        return brief.sitter_asked(sitting, sitting.sitter, self.shelf.frames(sitting))

    def _to_read(self, sitting: Sitting) -> SitterBrief:
        """The same for reading: a level frame that nobody named is chosen anew."""
        asked = self.sitter_asked(sitting)
        return asked if sitting.sitter.level_said else replace(asked, level=None)

    def keep_plan(self, view: Sitting, plan: Plan, kept: Mapping[str, Any], signature: str) -> None:
        """Keep a sitter's plan and the head it was made for; ``signature`` is of its brief."""
        sitter = view.sitter
        self._plans[self.key(view, "plan")] = plan
        save_plan(self.plan_path(view), plan, kept)
        sitter.planned, sitter.head_of, sitter.moved = signature, frames_mark(sitter), {}
        if sitter.chosen not in [planned.name for planned in plan.setups]:
            sitter.chosen = plan.stops[len(plan.stops) // 2].name if plan.stops else ""

    def brief_mark(self, sitting: Sitting) -> str:
        """Changes whenever what the sitter in hand is planned by does."""
        return brief_mark(sitting)

    def watch(self, sitting: Sitting, folder: Path) -> None:
        """Watch a folder against the set-up in hand; ShootError where there is none."""
        self.watch_trouble.pop(sitting.id, None)
        if (running := self._lookouts.get(sitting.id)) is not None:
            running.stop()
        known, planned = self.head(sitting), self.chosen(sitting)
        live = live_check(known[0] if known else None, planned, self.in_hand(sitting))
        state = journal_path(self.shelf.place(sitting.id), folder)
        self._lookouts[sitting.id] = FolderWatch(folder, state, live)

    def practice(self, sitting: Sitting) -> Practice:
        """The set-up in hand to be practised; WebError where there is none, or no leave."""
        known = self.head(sitting) if sitting.consent_at else None
        head, key = known[0] if known else None, self.key(sitting, "practice")
        return self.practices.of(key, head, self.chosen(sitting), self.in_hand(sitting))

    def folder_watch(self, sitting: Sitting) -> FolderWatch | None:
        """The watched folder of a sitting, also after it was stopped."""
        return self._lookouts.get(sitting.id)

    def chosen(self, sitting: Sitting) -> PlannedSetup | None:
        """The set-up that was opened last, or the first of the plan."""
        plan = self.plan(sitting)
        setups = plan.setups if plan else ()
        wanted = sitting.sitter.chosen
        return next((p for p in setups if p.name == wanted), setups[0] if setups else None)

    def in_hand(self, sitting: Sitting) -> Setup | None:
        """The chosen set-up with what was moved by hand."""
        planned = self.chosen(sitting)
        if planned is None:
            return None
        try:
            return planned.setup.with_changes(**sitting.sitter.moved.get(planned.name, {}))
        except (SitwellError, TypeError):
            return planned.setup  # moved under another version of the tool

    def sort_work(self, sitting: Sitting) -> SortWork:
        """The folder to sort, held against the plan where there is one."""
        path, chosen = self.plan_path(sitting), self.chosen(sitting)
        return SortWork(
            folder=Path(sitting.folder).expanduser(),
            state=self.shelf.place(sitting.id),
            plan=path if chosen and path.exists() else None,
            setup=chosen.name if chosen else "",
        )

    def begin_sort(self, sitting: Sitting) -> None:
        """Sort the folder of a sitting."""
        self.workshop.start(
            self.key(sitting, "sort"),
            lambda found: self.keep_sorted(sitting, found),
            sort_frames,
            self.sort_work(sitting),
        )

    def sorted(self, sitting: Sitting) -> Sorted | None:
        """What sorting found, in this run of the server."""
        return self._sorted.get(self.key(sitting, "sort"))

    def keep_sorted(self, sitting: Sitting, found: Sorted) -> None:
        """Remember what sorting found."""
        self._sorted[self.key(sitting, "sort")] = found

    def unmeasure(self, sitting: Sitting, at: int) -> None:
        """A sitter took leave back: what was measured goes, from memory and from the papers."""
        self._drop_memory(sitting.id)
        self.shelf.unmeasure(sitting, at)

    def forget(self, sitting_id: str) -> None:
        """Erase a sitting: its papers, frames, plans, and all that is in memory."""
        self._drop_memory(sitting_id)
        self.shelf.erase(sitting_id)

    def at_work(self, sitting_id: str) -> bool:
        """Whether a job runs for a sitting, or its folder is watched."""
        watched = sitting_id in self._lookouts and not self._lookouts[sitting_id].over
        lead = f"{sitting_id}/"
        return watched or self.workshop.at_work(lead) or self.page_jobs.at_work(lead)

    def _drop_memory(self, sitting_id: str) -> None:
        if (folder_watch := self._lookouts.pop(sitting_id, None)) is not None:
            folder_watch.stop()
        remembered: list[dict[str, Any]] = [
            self._readings,
            self._heads,
            self._models,
            self._plans,
            self.groups,
            self._likenesses.likenesses,
            self.practices.kept,
            self._sorted,
            self.workshop.jobs,
            self.page_jobs.jobs,
        ]
        for workshop in (self.workshop, self.page_jobs):
            workshop.stop_all(f"{sitting_id}/")
        for kept in remembered:
            for key in [key for key in kept if key.startswith(f"{sitting_id}/")]:
                kept.pop(key)

    def forget_label(self, label: str) -> tuple[str, ...]:
        """Erase the records and the papers of everybody called so; gives the report."""
        for sitting in self.shelf.of_label(label):
            self._drop_memory(sitting.id)
        return self.door.forget(label, self.shelf)

    def begin_with(self, back: Returning) -> Sitting:
        """A new sitting for somebody from the records: their yes, wishes, head and plan."""
        sitting = self.shelf.new()
        values = fill_in(sitting, back)
        sitter = sitting.sitter
        if values is not None:
            mark = frames_mark(sitter)
            self._heads[self.key(sitting, "head")] = mark, head_from_dict(values), values
            if back.plan is not None:
                sitter.head_of = mark
                save_plan(self.plan_path(sitting), back.plan.plan, values)
        self.shelf.write(sitting)
        return sitting

    def close(self) -> None:
        """Write what waits, and let the worker go."""
        for folder_watch in self._lookouts.values():
            folder_watch.stop()
        self.workshop.close()
        self.page_jobs.close()
        self.shelf.flush()
        self.shelf.erase_again()
        for sitting in self.shelf.all():
            self.shelf.put_away(sitting.id)

    def plan_path(self, sitting: Sitting) -> Path:
        """Where the plan of the sitter in hand lies; it holds their head, under their leave."""
        return self.shelf.place(sitting.id) / f"plan-{sitting.at}.json"


def _frames(sitter: SitterNote) -> tuple[FrameWork, ...]:
    return tuple(FrameWork(id=f.id, name=f.name, file=f.file) for f in sitter.frames)
