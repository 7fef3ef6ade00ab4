"""Set: big words for the sitter, one move at a time; what to set; the sheet to print."""

import asyncio
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from nicegui import ui

from sitwell.base.errors import WebError
from sitwell.scene.daylight_level import own_light
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup, setup_of_one
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet.care import care_notes
from sitwell.sheet.place_light import ASK_FOR_TIME, place_words
from sitwell.sheet.set_sheet import Means
from sitwell.sheet.settings import Setting, pattern_words, sharp_words
from sitwell.sheet.words import SitterWord, sitter_words
from sitwell.ui.web import brief, names
from sitwell.ui.web.drawings import FloorDrawing
from sitwell.ui.web.floor import from_above
from sitwell.ui.web.frame import Desk, address, choose_sitter, in_hand_picture, say_no_key
from sitwell.ui.web.group_page import place_in
from sitwell.ui.web.group_sitting import group_plan, in_hand, open_group, sheet_of_all
from sitwell.ui.web.neighbours import heads_together
from sitwell.ui.web.page_jobs import PageJobs, offer
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.parts import box, button, choices, link, notice, target_picture, words
from sitwell.ui.web.phone import phone_part
from sitwell.ui.web.planning import Model, SheetWork, as_it_stands, draw_sheet
from sitwell.ui.web.wording import preferences, t

# What is drawn, and the file it goes to.
SHEETS = {
    "set": "set-sheet",
    "discreet": "discreet-sheet",
    "everybody": "everybody",
    "everybody-discreet": "everybody-discreet",
}
WAIT_S, MOST_WAITS = 0.2, 300  # a minute for the head to be set up before a sheet


def content(desk: Desk) -> None:
    """The words first and large; beside them, unless the sitter may read, all the rest."""
    plan, discreet = desk.server.plan(desk.sitting), preferences().discreet
    alone = preferences().one_page
    planned, setup = desk.server.chosen(desk.sitting), desk.server.in_hand(desk.sitting)
    if not (discreet or alone):
        choose_sitter(desk)
    if plan is None or planned is None or setup is None:
        if discreet:
            words("p", t("One moment, please."), "spoken")
            return
        notice(t("There is no set-up to set yet; search and open one first."), "trouble")
        if not alone:
            link(t("To the plan"), address(desk, "plan"), "btn main")
        return
    group = group_plan(desk.server, desk.sitting)
    if not discreet:
        if not alone:
            _which(desk, plan)
        if group is not None:
            words("p", place_in(group, planned.name, desk.sitting.at), "pose")
    if discreet:
        Speaker(sitter_words(setup, planned.light, planned.expressions)).draw(discreet=True)
    else:
        desk.server.begin_looking(desk.sitting)
        with box("div", "said-and-meant"):
            target_picture(in_hand_picture(desk), setup.aspect)
            Speaker(sitter_words(setup, planned.light, planned.expressions)).draw(discreet=False)
    if not discreet and not brief.has_key(desk.sitting):
        say_no_key(desk)
    elif not discreet:
        with box("div", "two"):
            with box("div"):
                together = in_hand(desk.server, desk.sitting, planned.name)
                _Settings(desk, plan, planned, setup).draw(together.shared if together else setup)
                if together is not None:
                    words("p", t("Counted from the middle of everybody’s eyes."), "hint")
            with box("div", "drawing-side"):
                room = brief.room_of(desk.sitting)
                if together is None:
                    FloorDrawing(from_above(setup, room))
                else:
                    everybody = heads_together(together)
                    FloorDrawing(from_above(together.shared, room, instead=everybody))
        _care(desk, setup)
        if not alone:
            phone_part(desk, "set")
            _Sheets(desk, plan, planned, setup).draw()


class Speaker:
    """One sentence at a time, to be said or to be held up to the sitter."""

    def __init__(self, said: tuple[SitterWord, ...]) -> None:
        self.said = said
        self.at = 0

    def draw(self, *, discreet: bool) -> None:
        """The sentence, and two ways on: touch, or the arrow keys."""
        with box("section", "speaker discreet" if discreet else "speaker", aria_label=t("To say")):
            self.part = words("p", "", "part")
            with box("div", "", aria_live="polite"):
                self.sentence = words("p", "", "spoken")
            self.shown = words("p", "", "shown")
            with box("div", "turns"):
                self.back = button(t("Back"), lambda: self.go(-1))
                self.count = words("span", "", "hint")
                self.on = button(t("Next"), lambda: self.go(1), "main")
        if discreet:
            self.shown.set_visibility(False)
        ui.keyboard(on_key=self._key)
        self.go(0)

    def go(self, step: int) -> None:
        """Say the next or the one before."""
        self.at = min(max(self.at + step, 0), len(self.said) - 1)
        word = self.said[self.at]
        self.part.set_text(t(word.part))
        self.sentence.set_text(t(word.sentence))
        self.shown.set_text(t(word.show) if word.show else "")
        self.count.set_text(t("{number} of {count}", number=self.at + 1, count=len(self.said)))
        self.back.props["disabled"] = self.at == 0
        self.on.props["disabled"] = self.at == len(self.said) - 1
        for made in (self.back, self.on):
            made.update()

    def _key(self, event: Any) -> None:
        if event.action.keydown and event.key.arrow_right:
            self.go(1)
        elif event.action.keydown and event.key.arrow_left:
            self.go(-1)


def _which(desk: Desk, plan: Plan) -> None:
    def choose(name: str) -> None:
        if group_plan(desk.server, desk.sitting) is not None:
            open_group(desk.server, desk.sitting, name)
        desk.sitting.sitter.chosen = name
        desk.changed()
        ui.navigate.reload()

    offered = {planned.name: names.setup_name(planned.name) for planned in plan.setups}
    choices(t("Set-up"), offered, desk.sitting.sitter.chosen, choose, "unnamed")


class _Settings:
    """What the photographer and the assistant set, and what the light is called."""

    def __init__(self, desk: Desk, plan: Plan, planned: PlannedSetup, setup: Setup) -> None:
        self.desk, self.plan, self.planned, self.setup = desk, plan, planned, setup

    def draw(self, shared: Setup) -> None:
        """Line by line; ``shared`` is the set-up with everybody's camera and light."""
        sitting = self.desk.sitting
        daylight = own_light(brief.kit_of(sitting), brief.room_of(sitting), shared)
        words("h2", t("Camera and light"))
        with box("dl", "drift") as self.rows:
            for row in place_words(shared, daylight):
                _setting(row)
        if self.setup == self.planned.setup:
            self._name_light(self.planned.measures)
        else:
            ui.timer(0.0, self._measure, once=True)

    async def _measure(self) -> None:
        """Look at a set-up that was moved by hand, once there is a head to look at."""
        model = await model_of(self.desk)
        if model is None:
            return
        parts = brief.judge_parts(self.desk.sitting)
        stands = await asyncio.to_thread(
            as_it_stands, model, parts, self.plan, self.planned, self.setup
        )
        if not self.rows.is_deleted:
            self._name_light(stands.measures)

    def _name_light(self, measures: Mapping[str, float]) -> None:
        with self.rows:
            _setting(sharp_words(self.setup, measures))
            for row in pattern_words(measures, self.setup.fill_ratio):
                _setting(row)


def _setting(row: Setting) -> None:
    note = row.note
    if getattr(note, "message", "") == ASK_FOR_TIME:  # the command line's own way
        note = t("Kit and room tells when the sun stands so, and the bearings")
    with box("div"):
        words("dt", t(row.name))
        with box("dd"):
            words("span", row.value)
            if note:
                words("span", t(note), "hint note")


async def model_of(desk: Desk) -> Model | None:
    """The head to look at, waited for while it is set up; None if that takes too long."""
    for _ in range(MOST_WAITS):
        model = desk.server.model(desk.sitting)
        if model is not None:
            return model
        await asyncio.sleep(WAIT_S)
    return None


def _care(desk: Desk, setup: Setup) -> None:
    kit, room = brief.kit_of(desk.sitting), brief.room_of(desk.sitting)
    words("h2", t("Care"))
    with box("ul", "care"):
        for note in care_notes(setup, brief.light_for(kit, room, setup).kind()):
            words("li", t(note.sentence))


class _Sheets:
    """Draws the sheets on paper, and offers them when they are there."""

    def __init__(self, desk: Desk, plan: Plan, planned: PlannedSetup, setup: Setup) -> None:
        self.desk, self.plan, self.planned, self.setup = desk, plan, planned, setup
        desk.server.begin_looking(desk.sitting)

    def draw(self) -> None:
        """Two buttons, more for several, and a place for what they make."""
        server, sitting = self.desk.server, self.desk.sitting
        words("h2", t("The sheet to print"))
        with box("div", "sheets"):
            button(t("Draw the set sheet"), lambda: self._make(discreet=False))
            button(t("Draw the discreet sheet"), lambda: self._make(discreet=True))
            if group_plan(server, sitting) is not None:
                button(t("Draw everybody’s sheet"), lambda: self._together(discreet=False))
                button(t("Everybody’s, discreet"), lambda: self._together(discreet=True))
        words("p", t("The discreet one shows moves and settings only."), "hint")
        link(t("Save the brief"), f"/brief/{sitting.id}", "btn")
        shows = dict.fromkeys(SHEETS, self._offer)
        self.page_jobs = PageJobs(server.page_jobs, server.key(sitting, "sheet"), shows)

    async def _make(self, *, discreet: bool) -> None:
        model = await model_of(self.desk)
        if model is None:
            self.page_jobs.say(t("The head is still being prepared; try again in a moment."))
            return
        plan, planned = GroupPlan.of_one(self.plan), PlannedGroup.of_one(self.planned)
        parts = [brief.judge_parts(self.desk.sitting)]
        setup = setup_of_one(self.setup)
        self._send("discreet" if discreet else "set", [model], parts, plan, planned, setup)

    def _together(self, *, discreet: bool) -> None:
        """One sheet for everybody, each with their own moves."""
        sitting, kind = self.desk.sitting, "everybody-discreet" if discreet else "everybody"
        try:
            drawn_from = sheet_of_all(self.desk.server, sitting, self.planned.name)
        except WebError as error:
            self.page_jobs.say(str(error))
            return
        models = drawn_from[0]
        parts = [brief.judge_parts(turned_to(sitting, i)) for i in range(len(models))]
        self._send(kind, models, parts, *drawn_from[1:])

    def _send(
        self,
        kind: str,
        models: Sequence[Model],
        parts: Sequence[Any],
        plan: GroupPlan,
        planned: PlannedGroup,
        setup: GroupSetup,
    ) -> None:
        sitting = self.desk.sitting
        means = Means(
            kit=brief.kit_of(sitting),
            room=brief.room_of(sitting),
            paper=_paper(),
            label=sitting.title(),
        )
        work = SheetWork(
            plan=plan,
            planned=planned,
            setup=setup,
            path=self._drawn(SHEETS[kind]),
            means=means,
            discreet=kind.endswith("discreet"),
            language=preferences().language,
        )
        self.page_jobs.send(kind, draw_sheet, models, parts, work)

    def _drawn(self, kind: str) -> Path:
        folder = self.desk.shelf.place(self.desk.sitting.id) / "drawn"
        return folder / f"{kind}-{self.planned.name}.pdf"

    def _offer(self, path: Path) -> None:
        offer(self.desk.sitting.id, path)


def _paper() -> str:
    """The paper that readers of feet and inches have, or of metres."""
    return "us-letter" if preferences().units == "imperial" else "a4"
