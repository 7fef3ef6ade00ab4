"""Atlas: this sitter over turns and chins and along other moves, drawn as they will look.

It fills in nearest to the set-up in hand first; a cell whose guards do not all hold is dimmed and
says why, the plan's stops are outlined, and a touch takes a cell in hand.
"""

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from nicegui import background_tasks, ui

from sitwell.base.errors import SitwellError
from sitwell.base.words import spoken
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.ui.web import atlas, brief, names
from sitwell.ui.web.frame import Desk, address, choose_sitter
from sitwell.ui.web.parts import attributed, box, link, notice, words
from sitwell.ui.web.planning import Judge, Judged, Model
from sitwell.ui.web.wording import preferences, t

CELL_PX = 150
LOOK_AGAIN_S = 0.3


def content(desk: Desk) -> None:
    """The grid and the strips, or what is missing for them."""
    words("p", t("How this sitter will look, all about the set-up in hand. Touch one to take it."),
          "lead")  # fmt: skip
    choose_sitter(desk)
    server, sitting = desk.server, desk.sitting
    plan, planned = server.plan(sitting), server.chosen(sitting)
    if plan is None or planned is None or not sitting.consent_at:
        notice(t("There is no set-up to look around yet; search and open one first."), "trouble")
        link(t("To the plan"), address(desk, "plan"), "btn main")
        return
    server.begin_looking(sitting)
    link(t("Back to the plan"), address(desk, "plan"), "btn quiet")

    @ui.refreshable
    def drawn() -> None:
        model, setup = server.model(sitting), server.in_hand(sitting)
        if model is None or setup is None:
            notice(t("The head is being prepared; one moment."))
            ui.timer(LOOK_AGAIN_S, look, once=True)
        else:
            _Atlas(desk, plan, planned, setup, model).draw()

    def look() -> None:
        server.begin_looking(sitting)
        drawn.refresh()

    drawn()


@dataclass(slots=True)
class _Shown:
    """A cell on the page: its button, its picture and what is said under it."""

    cell: atlas.Cell
    button: Any
    image: Any
    said: Any


class _Atlas:
    """The cells, filled in one after another."""

    def __init__(
        self, desk: Desk, plan: Plan, planned: PlannedSetup, setup: Setup, model: Model
    ) -> None:
        self.desk, self.plan, self.planned = desk, plan, planned
        self.setup, self.model = setup, model
        self.shown: list[_Shown] = []
        self.language = preferences().language
        self.judge: Judge | None = None

    def draw(self) -> None:
        """Lay out every cell empty, then begin to fill."""
        reaches = brief.reaches(self.desk.sitting, self.setup)
        rows = atlas.grid(self.setup, reaches, [p.setup for p in self.plan.setups])
        with box("section", "atlas", aria_label=t("Turn and chin")) as self.root:
            words("h2", t("Turn and chin"))
            with box("div", "atlas-grid") as made:
                made.style(f"--across: {len(rows[0])}")
                for row in rows:
                    for cell in row:
                        self._cell(cell)
            self._outline([cell for row in rows for cell in row])
            for move, cells in self._strips(reaches):
                words("h3", names.move_name(move))
                with box("div", "atlas-strip"):
                    for cell in cells:
                        self._cell(cell)
        first = min(self.shown, key=lambda each: each.cell.away).button
        ui.run_javascript(
            f"document.getElementById('{first.html_id}')"
            ".scrollIntoView({inline: 'center', block: 'nearest'})"
        )
        background_tasks.create(self._fill())

    def _strips(self, reaches: dict[str, brief.Reach]) -> Iterator[tuple[str, list[atlas.Cell]]]:
        focals = brief.focal_choices_mm(brief.kit_of(self.desk.sitting))
        wide = brief.Reach(low=min(focals), high=max(focals), step=1.0)
        for move in atlas.STRIPS:
            if cells := atlas.strip(self.setup, move, reaches[move]):
                yield move, cells
        if cells := atlas.strip(self.setup, "focal_mm", wide, focals):
            yield "focal_mm", cells

    def _cell(self, cell: atlas.Cell) -> None:
        told = ", ".join(names.value_words(m, v) for m, v in cell.changes.items())
        wide, high = self.setup.aspect.split(":")
        with attributed(ui.element("button").classes("cell"), type="button") as button:
            with box("span", "cell-frame") as frame:
                frame.style(f"aspect-ratio: {wide} / {high}")
                image = attributed(ui.element("img"), alt="")
                image.set_visibility(False)
            words("span", told, "cell-name")
            said = words("span", "", "cell-said")
        button.on("click", lambda _: self._take(cell), [])
        self.shown.append(_Shown(cell=cell, button=button, image=image, said=said))

    def _outline(self, cells: list[atlas.Cell]) -> None:
        """Where the plan's stops and the set-up in hand lie."""
        stops = {planned.name: planned.setup for planned in self.plan.setups}
        for name, setup in stops.items():
            at = atlas.nearest(cells, setup)
            shown = next(each for each in self.shown if each.cell is at)
            shown.button.classes(add="stop")
            with shown.button:
                words("span", names.setup_name(name), "cell-stop")

    async def _fill(self) -> None:
        """Nearest to the set-up in hand first; ends when the page has gone."""
        await self.root.client.connected()  # a page that nobody opens is not drawn for
        for shown in sorted(self.shown, key=lambda each: each.cell.away):
            try:
                changes = brief.carried(self.desk.sitting, self.setup, shown.cell.changes)
                setup = self.setup.with_changes(**changes)
                source, judged = await asyncio.to_thread(self._look, setup)
            except SitwellError:
                continue  # no such set-up, a key that would stand in the floor say
            if shown.image.is_deleted:
                return
            with self.root, spoken(self.language):
                self._show(shown, source, judged)

    def _look(self, setup: Setup) -> tuple[str, Judged]:
        if self.judge is None:
            parts = brief.judge_parts(self.desk.sitting)
            self.judge = self.model.judge_for(*parts, self.plan)
        return self.model.portrait(setup, CELL_PX).source(), self.model.judge(self.judge, setup)

    def _show(self, shown: _Shown, source: str, judged: Judged) -> None:
        shown.image.props["src"] = source
        shown.image.set_visibility(True)
        lost = [names.guard_words(guard) for guard in judged.guards if not guard.holds]
        if lost:
            shown.button.classes(add="dim")
            more = len(lost) - 1
            text = t("{first} and {more} more", first=lost[0], more=more) if more else lost[0]
            shown.said.set_text(text)
            shown.button.props["title"] = ", ".join(lost)
            shown.button.update()

    def _take(self, cell: atlas.Cell) -> None:
        """What is touched is the set-up in hand, on the Plan page."""
        changes = brief.carried(self.desk.sitting, self.setup, cell.changes)
        moved = self.desk.sitting.sitter.moved.setdefault(self.planned.name, {})
        moved.update(changes)
        self.desk.sitting.sitter.chosen = self.planned.name
        self.desk.changed()
        ui.navigate.to(f"{address(self.desk, 'plan')}#hand")
