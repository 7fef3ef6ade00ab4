"""What the server keeps between pages: sittings, long jobs, and what they found.

Papers are kept on the disk; what was read of a face is kept in memory only and read again when it
is needed, and a plan lies beside the papers it was made from.
"""

import asyncio
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sitwell.base.errors import SitwellError, WebError
from sitwell.search.plan import Plan
from sitwell.sheet.plan_file import load_plan, save_plan
from sitwell.ui.web import brief
from sitwell.ui.web.documents import Shelf, SitterNote, Sitting
from sitwell.ui.web.jobs import Job, Workshop
from sitwell.ui.web.studio import FaceRead, FrameWork, Model, plan_sitting, read_face


@dataclass(slots=True, kw_only=True)
class House:
    """The one server's worth of state, shared by all pages and tabs."""

    shelf: Shelf
    workshop: Workshop
    _readings: dict[str, tuple[str, FaceRead]] = field(default_factory=dict)
    _models: dict[str, tuple[FaceRead, bool, Model]] = field(default_factory=dict)
    _plans: dict[str, Plan] = field(default_factory=dict)
    _being_made: set[str] = field(default_factory=set)
    _tasks: set[asyncio.Task[None]] = field(default_factory=set)

    def key(self, sitting: Sitting, job: str) -> str:
        """The name of a job for the sitter in hand."""
        return f"{sitting.id}/{sitting.at}/{job}"

    def job(self, sitting: Sitting, name: str) -> Job | None:
        """The latest job of that name for the sitter in hand."""
        return self.workshop.jobs.get(self.key(sitting, name))

    def reading(self, sitting: Sitting) -> FaceRead | None:
        """What was read of the sitter in hand, if it is of these frames and marks."""
        found = self._readings.get(self.key(sitting, "read"))
        return found[1] if found and found[0] == _frames_mark(sitting.sitter) else None

    def begin_reading(self, sitting: Sitting) -> None:
        """Read the frames of the sitter in hand, once leave was given."""
        sitter, key = sitting.sitter, self.key(sitting, "read")
        if not sitting.consent_at or not sitter.frames:
            return
        self.workshop.stop(key)
        signature = _frames_mark(sitter)

        def done(read: FaceRead) -> None:
            self._readings[key] = signature, read
            self.begin_model(sitting)

        self.workshop.start(key, done, read_face, self._frames(sitting), _level(sitter))

    def model(self, sitting: Sitting) -> Model | None:
        """The sitter's head to look at; None before it is read and set up."""
        made, glasses = self._models.get(self.key(sitting, "model")), sitting.sitter.glasses
        fits = made is not None and made[0] is self.reading(sitting) and made[1] == glasses
        return made[2] if made is not None and fits else None

    def begin_model(self, sitting: Sitting) -> None:
        """Set the head up for looking, in a thread; it takes a second or two."""
        read, key, glasses = (
            self.reading(sitting),
            self.key(sitting, "model"),
            sitting.sitter.glasses,
        )
        if read is None or read.head is None or key in self._being_made:
            return
        head = read.head

        async def make() -> None:
            self._being_made.add(key)
            try:
                model = await asyncio.to_thread(Model, head, glasses)
                self._models[key] = read, glasses, model
            finally:
                self._being_made.discard(key)

        task = asyncio.get_running_loop().create_task(make())
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def plan(self, sitting: Sitting) -> Plan | None:
        """The plan of the sitter in hand, from memory or from beside the papers."""
        key = self.key(sitting, "plan")
        if key not in self._plans and (path := self._plan_path(sitting)).exists():
            try:
                self._plans[key] = load_plan(path)[0]
            except SitwellError:
                path.unlink()
        return self._plans.get(key)

    def plan_mark(self, sitting: Sitting) -> str:
        """Changes whenever the plan or its head does, for the browser's memory of pictures."""
        return _mark(sitting.sitter.planned, sitting.sitter.glasses, id(self.plan(sitting)))

    async def picture(self, sitting: Sitting, name: str, height_px: int) -> bytes:
        """A planned set-up, or "baseline", as the camera will see it; WebError if there is none."""
        plan, model = self.plan(sitting), self.model(sitting)
        setups = {planned.name: planned.setup for planned in plan.setups} if plan else {}
        setup = plan.baseline if plan and name == "baseline" else setups.get(name)
        if setup is None or model is None:
            raise WebError("There is no such view yet; open the plan again.")
        return await asyncio.to_thread(model.picture, setup, height_px)

    def plan_is_stale(self, sitting: Sitting) -> bool:
        """Whether wishes, limits, kit, room or frames have changed since the plan was made."""
        return sitting.sitter.planned != _brief_mark(sitting)

    def begin_plan(self, sitting: Sitting, locked: Mapping[str, float | str]) -> None:
        """Search set-ups for the sitter in hand; the old plan stays until the new one is there."""
        read, sitter = self.reading(sitting), sitting.sitter
        if read is None or read.head is None:
            return
        key, signature = self.key(sitting, "plan"), _brief_mark(sitting)

        def done(plan: Plan) -> None:
            self._plans[key] = plan
            save_plan(self._plan_path(sitting), plan)
            sitter.planned, sitter.moved = signature, {}
            names = [planned.name for planned in plan.setups]
            if sitter.chosen not in names:
                sitter.chosen = names[len(names) // 2] if names else ""
            self.shelf.changed(sitting, "search")

        self.workshop.start(
            key,
            done,
            plan_sitting,
            read.head,
            sitter.glasses,
            brief.wishes_of(sitter),
            brief.kit_of(sitting),
            brief.room_of(sitting),
            brief.comfort_of(sitter),
            sitting.framing,
            sitting.aspect,
            dict(locked),
        )

    def forget(self, sitting_id: str) -> None:
        """Erase a sitting: its papers, frames, plans, and all that is in memory."""
        for kept in (self._readings, self._models, self._plans, self.workshop.jobs):
            for key in [key for key in kept if key.startswith(f"{sitting_id}/")]:
                kept.pop(key)
        self.shelf.erase(sitting_id)

    def close(self) -> None:
        """Write what waits, and let the worker go."""
        self.workshop.close()
        self.shelf.flush()

    def _plan_path(self, sitting: Sitting) -> Path:
        return self.shelf.place(sitting.id) / f"plan-{sitting.at}.json"

    def _frames(self, sitting: Sitting) -> tuple[FrameWork, ...]:
        return tuple(
            FrameWork(
                id=frame.id,
                name=frame.name,
                path=self.shelf.frame_path(sitting, frame),
                marks=frame.marks,
            )
            for frame in sitting.sitter.frames
        )


def _level(sitter: SitterNote) -> int | None:
    ids = [frame.id for frame in sitter.frames]
    return ids.index(sitter.level) if sitter.level in ids else None


def _frames_mark(sitter: SitterNote) -> str:
    return _mark([[frame.id, frame.marks] for frame in sitter.frames], sitter.level)


def _brief_mark(sitting: Sitting) -> str:
    sitter = sitting.sitter
    return _mark(
        _frames_mark(sitter), sitter.wishes, sorted(sitter.limits), sitter.glasses, sitting.kit,
        sitting.own_kit, sitting.room, sitting.own_room, sitting.framing, sitting.aspect,
    )  # fmt: skip


def _mark(*parts: object) -> str:
    text = json.dumps(parts, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
