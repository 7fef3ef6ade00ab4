"""The pages' door to the work itself: plan, judge, look live. No page calls it otherwise.

``plan_brief`` is a top-level function on plain data, run in the workshop's process; a ``Model``
stays in the server and answers while a control moves.
"""

import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sitwell import flow
from sitwell.base.errors import SearchStoppedError
from sitwell.base.words import spoken, tr
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import Kit
from sitwell.brief.request import Brief
from sitwell.brief.room import Room
from sitwell.brief.wishes import Wish
from sitwell.head.reading import Reading
from sitwell.head.surface import Head
from sitwell.likeness.likeness import Likeness
from sitwell.likeness.portrayal import Portrait, Portrayal
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import CROPS, Setup
from sitwell.scene.sitter import Sitter
from sitwell.search.benefit import Benefit
from sitwell.search.choices import Means
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup
from sitwell.search.guards import Guards, make_guards
from sitwell.search.plan import Gain, GuardState, Plan, PlannedSetup
from sitwell.search.search_space import set_search_space
from sitwell.search.sentences import STAGES
from sitwell.sheet.set_sheet import Look, draw_setup, write_set_sheet
from sitwell.sheet.set_sheet import Means as SheetMeans
from sitwell.shoot.frame_facts import Expected
from sitwell.shoot.live import LiveCheck, live_for
from sitwell.ui.web.jobs import Stop, Tell
from sitwell.ui.web.wording import mark

Heed = Callable[[float, str], None]

PICTURES, PAGE = mark("drawing the pictures"), mark("setting the page")


def plan_brief(brief: Brief, sitters: Sequence[Sitter], tell: Tell, stop: Stop) -> GroupPlan:
    """Set-ups for everybody of a brief; run in the workshop's process.

    The strong one is told as soon as it is found.
    """

    def on_strong(setup: GroupSetup) -> None:
        tell(0.45, STAGES["walk"], setup)

    return flow.plan(brief, sitters, progress=tell, stop=stop, on_strong=on_strong).found


def sitter_with(head: Head, kept: Mapping[str, Any]) -> Sitter:
    """A sitter whose head is known."""
    return Sitter(reading=Reading(frames=(), fit=None, notes=()), found=head, kept=kept)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a set-up shows: every measure, what each wish gets, which guards hold."""

    measures: Mapping[str, float]
    gains: tuple[Gain, ...]
    guards: tuple[GuardState, ...]


class Judge:
    """Judges set-ups moved by hand exactly as the search does, against a plan's straight-on one."""

    def __init__(
        self, evaluator: Evaluator, wishes: Sequence[Wish], means: Means, plan: Plan
    ) -> None:
        self._space = set_search_space(
            evaluator,
            NAMES,
            means,
            framing=plan.baseline.framing,
            aspect=plan.baseline.aspect,
            crops=CROPS,
        )
        self._baseline = self._space.vector(plan.baseline)
        named = dict(zip(self._space.names, self._baseline.tolist(), strict=True))
        self._benefit = Benefit(wishes, self._space.names, self._baseline)
        self._guards = Guards(make_guards(named), self._space.names)

    def judge(self, setup: Setup) -> Judged:
        """Measures, gains and guards of a set-up."""
        vector = self._space.vector(setup)
        was, becomes = self._space.reader(self._baseline), self._space.reader(vector)
        steps = self._benefit.steps(vector)
        gains = tuple(
            Gain(
                wish=self._benefit.wishes[owner].feature,
                measure=aim.measure,
                was=was(aim.measure),
                becomes=becomes(aim.measure),
                gain=float(steps[index]),
            )
            for index, (owner, aim) in enumerate(self._benefit.aims)
            if aim.stands
        )
        measures = dict(zip(NAMES, vector[: len(NAMES)].tolist(), strict=True))
        return Judged(measures=measures, gains=gains, guards=self._guards.states(vector))


class Model:
    """One sitter's head, ready to be looked at in any set-up while a control moves."""

    def __init__(self, head: Head, glasses: bool) -> None:
        self._evaluator = Evaluator(head, Glasses() if glasses else None)
        self.head, self._portrayal = head, Portrayal(head)
        self._portrayal.view(Setup())  # prepares the drawing now, not under somebody's hand
        self.has_likeness = self.taking_likeness = False
        # each keeps its buffers, so two tabs must take turns
        self._measuring, self._drawing = threading.Lock(), threading.Lock()

    def take_likeness(self, likeness: Likeness) -> None:
        """Show the sitter as their frames have them from now on."""
        with self._drawing:
            self._portrayal.likeness, self.has_likeness = likeness, True

    @contextmanager
    def drawing(self) -> Iterator[Portrayal]:
        """What pictures are made with now, for this thread alone."""
        with self._drawing:
            yield self._portrayal

    def judge_for(
        self, wishes: Sequence[Wish], kit: Kit, room: Room, comfort: Comfort, plan: Plan
    ) -> Judge:
        """A judge for one brief and plan."""
        means = Means(kit=kit, room=room, comfort=comfort, locked={})
        with self._measuring:
            return Judge(self._evaluator, wishes, means, plan)

    def judge(self, judge: Judge, setup: Setup) -> Judged:
        """Measures, gains and guards of a set-up."""
        with self._measuring:
            return judge.judge(setup)

    def portrait(self, setup: Setup, height_px: int, *, tell_made_up: bool = False) -> Portrait:
        """The sitter as the camera sees them, in the set-up's own format."""
        with self._drawing:
            return self._portrayal.portrait(setup, height_px, tell_made_up=tell_made_up)

    def frames_to_take(self, setups: Sequence[Setup]) -> tuple[str, ...]:
        """The frames that would show those set-ups that can only be drawn, each once, in words."""
        with self._drawing:
            return self._portrayal.frames_to_take(setups)

    def is_hard_lit(self, setups: Sequence[Setup]) -> bool:
        """Whether a frame's own hard light stays in any of their pictures."""
        with self._drawing:
            return self._portrayal.is_hard_lit(setups)

    def curve(self, setup: Setup, move: str, values: Sequence[float]) -> list[dict[str, float]]:
        """The measures for each value of one move, all else as in the set-up."""
        rows = []
        for value in values:
            with self._measuring:
                seen = self._evaluator.evaluate(setup.with_changes(**{move: float(value)}))
            rows.append(dict(zip(NAMES, seen.tolist(), strict=True)))
        return rows


def live_check(head: Head | None, planned: PlannedSetup | None, setup: Setup | None) -> LiveCheck:
    """A check of frames that land against a set-up as it stands in hand; else of eyes and focus."""
    if planned is None or setup is None:
        return LiveCheck(Expected())
    return live_for(planned, head, setup)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWork:
    """A sheet to draw: the planned set-up, how it stands in hand, and where it goes."""

    plan: GroupPlan
    planned: PlannedGroup
    setup: GroupSetup
    path: Path
    means: SheetMeans
    discreet: bool
    language: str


def as_it_stands(
    model: Model,
    parts: tuple[tuple[Wish, ...], Kit, Room, Comfort],
    plan: Plan,
    planned: PlannedSetup,
    setup: Setup,
) -> PlannedSetup:
    """A planned set-up as it is in hand: one moved by hand is judged anew, without its leeway."""
    if setup == planned.setup:
        return planned
    judged = model.judge(model.judge_for(*parts, plan), setup)
    return replace(
        planned,
        setup=setup,
        measures=judged.measures,
        gains=judged.gains,
        guards=judged.guards,
        leeway=(),
        reasons=(),
    )


def draw_sheet(
    models: Sequence[Model],
    parts: Sequence[tuple[tuple[Wish, ...], Kit, Room, Comfort]],
    work: SheetWork,
    tell: Tell,
    stop: Stop,
) -> Path:
    """Draw one sheet, of the set-up as it is in hand, in the language it is asked for in."""
    heed = heeding(tell, stop)
    with spoken(work.language):
        heed(0.0, PICTURES)
        planned = _in_hand(models, parts, work)
        plan = work.plan.with_setup(planned)
        # always in the same order, so that two sheets never wait for one another
        with ExitStack() as drawing:
            looks = [
                Look(head=model.head, portrayal=drawing.enter_context(model.drawing()))
                for model in models
            ]
            drawn = draw_setup(plan, planned, looks, work.means)
        heed(0.5, PAGE)
        return write_set_sheet(work.path, plan, planned, drawn, work.means, discreet=work.discreet)


def _in_hand(
    models: Sequence[Model],
    parts: Sequence[tuple[tuple[Wish, ...], Kit, Room, Comfort]],
    work: SheetWork,
) -> PlannedGroup:
    """The planned set-up as it is in hand."""
    if work.setup == work.planned.setup:
        return work.planned
    owns = tuple(
        as_it_stands(model, part, plan, planned, work.setup.own(index))
        for index, (model, part, plan, planned) in enumerate(
            zip(models, parts, work.plan.parts, work.planned.planned, strict=True)
        )
    )
    return replace(work.planned, setup=work.setup, planned=owns, leeway=())


def heeding(tell: Tell, stop: Stop) -> Heed:
    """Tells how far a sheet is; raises SearchStoppedError when asked to stop."""

    def heed(share: float, doing: str) -> None:
        if stop():
            raise SearchStoppedError(tr("Drawing was stopped; ask for the sheet again."))
        tell(share, doing)

    return heed
