"""One set-up in hand: every control with its leeway, the view, measures and guards as it moves."""

import asyncio
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from nicegui import background_tasks, ui

from sitwell.base.errors import SitwellError
from sitwell.scene.setup import CROPS, Setup
from sitwell.search.plan import Leeway, Plan, PlannedSetup
from sitwell.ui.web import brief, names
from sitwell.ui.web.changing_rows import ChangingRows
from sitwell.ui.web.curves import curve_svg
from sitwell.ui.web.dragging import dragged_above, dragged_side
from sitwell.ui.web.drawings import FloorDrawing
from sitwell.ui.web.floor import as_drawn, from_above, from_side
from sitwell.ui.web.floor_parts import Floor
from sitwell.ui.web.frame import Desk, address
from sitwell.ui.web.neighbours import Others
from sitwell.ui.web.parts import (
    Slider,
    box,
    button,
    choices,
    link,
    notice,
    pick,
    words,
)
from sitwell.ui.web.picture_in_hand import PictureInHand
from sitwell.ui.web.planning import Judge, Judged, Model
from sitwell.ui.web.wording import degrees, mark, number, t

GROUPS = {
    mark("The sitter"): ("turn_deg", "chin_deg", "tilt_deg", "chin_forward_mm"),
    mark("The camera"): ("camera_height_mm", "distance_mm", "f_number"),
    mark("The light"): ("key_azimuth_deg", "key_elevation_deg", "key_distance_mm", "fill_ratio"),
    mark("The background"): ("background_stops",),
}
Swept = dict[str, tuple[list[float], list[dict[str, float]]]]
CROP_NAMES = {"whole-head": mark("the whole head"), "into-forehead": mark("into the forehead")}
# A small picture while the hand moves, a fine one when it rests.
MOVING_PX, RESTING_PX = 240, 620
REST_S = 0.25
CURVED = ("turn_deg", "chin_deg")
CURVE_POINTS, MOST_CURVES = 15, 4
# One press of an arrow key on a thing in the drawing.
NUDGE_MM, NUDGE_DEG = 50.0, 2.0


class SetupInHand:
    """The opened set-up; what is moved is kept in the sitting's papers under its name."""

    def __init__(
        self,
        desk: Desk,
        plan: Plan,
        planned: PlannedSetup,
        model: Model,
        search: Callable[[Mapping[str, float | str]], None],
        others: Others | None = None,
    ) -> None:
        self.desk, self.plan, self.planned, self.model = desk, plan, planned, model
        self.search, self.others = search, others
        sitter = desk.sitting.sitter
        self.moved = sitter.moved.setdefault(planned.name, {})
        self.kit, self.room = brief.kit_of(desk.sitting), brief.room_of(desk.sitting)
        self.comfort = brief.comfort_of(sitter)
        self.judge: Judge | None = None
        self.sliders: dict[str, Slider] = {}
        self.wanted: Setup | None = None
        self.busy = False
        self.resting: asyncio.Task[None] | None = None
        self.setup = self._setup()
        self.picture = PictureInHand(model, self.ask)

    def draw(self) -> None:
        """What changes while the hand moves stays in view: the picture and, by it, the gains."""
        with box("section", "hand", id="hand", aria_label=t("In hand")) as self.root:
            words("h2", t("{name}, in hand", name=names.setup_name(self.planned.name)))
            with box("div", "bench"):
                with box("div", "watched"):
                    self.picture.draw(self.setup.aspect)
                    self.picture.draw_words()
                    with box("div", "tells"):
                        self.tells = ChangingRows()
                        if self.others is not None:
                            self.others.draw()
                with box("div", "console"):
                    with box("div", "stage") as self.stage:
                        self._drawings()
                    self.trouble = notice("", "trouble")
                    self.trouble.set_visibility(False)
                    with box("div", "by-hand"):
                        self._controls()
                    self._buttons()
            self.curves = box("div", "curves")
            self._why()
        self.ask()

    def show(self) -> None:
        """Bring what was just opened into view."""
        ui.run_javascript("document.getElementById('hand').scrollIntoView()")

    def _setup(self) -> Setup:
        try:
            return self.planned.setup.with_changes(**self.moved)
        except (SitwellError, TypeError):
            self.moved.clear()
            return self.planned.setup

    def _drawings(self) -> None:
        above, side = self._floors()
        with box("div", "plan-above"):
            self.above = FloorDrawing(above, self._put_above, self._nudge_above)
        with box("div", "plan-side"):
            self.side = FloorDrawing(side, self._put_side, self._nudge_side)
        self._fit_stage(above, side)

    def _fit_stage(self, above: Floor, side: Floor) -> None:
        """Tell the style sheet how wide both stand at height 1, so that nothing is cut."""
        both = above.box[2] / above.box[3] + side.box[2] / side.box[3]
        self.stage.style(f"--both: {both:.4f}")

    def _floors(self) -> tuple[Floor, Floor]:
        reach = tuple(planned.setup for planned in self.plan.setups)
        eyes_mm = self.comfort.eyes_above_floor_mm
        return (
            from_above(
                self.setup,
                self.room,
                reach,
                beside=self.others.outlines() if self.others else (),
            ),
            from_side(self.setup, self.room, eyes_mm, reach),
        )

    def _controls(self) -> None:
        reaches = brief.reaches(self.desk.sitting, self.setup)
        leeway = {row.move: row for row in self.planned.leeway}
        for title, moves in GROUPS.items():
            with box("fieldset", "controls"):
                words("legend", t(title))
                if title == "The camera":
                    self._lens()
                for move in moves:
                    self.sliders[move] = self._slider(move, reaches[move], leeway.get(move))
                if title == "The light":
                    self.called = words("p", "\u00a0", "hint")

    def _slider(self, move: str, reach: brief.Reach, leeway: Leeway | None) -> Slider:
        return Slider(
            names.move_name(move),
            reach,
            getattr(self.setup, move),
            lambda value: self.move({move: float(value)}),
            held=move in self.desk.sitting.sitter.locked,
            on_hold=lambda yes: self._hold(move, yes),
            says=lambda value: names.value_words(move, value),
            leeway=(leeway.low, leeway.high) if leeway else None,
        )

    def _lens(self) -> None:
        focals = {
            f"{focal:g}": f"{number(focal, 0)} mm" for focal in brief.focal_choices_mm(self.kit)
        }
        now = f"{self.setup.focal_mm:g}"
        focals.setdefault(now, f"{now} mm")
        pick(names.move_name("focal_mm"), focals, now, lambda v: self.move({"focal_mm": float(v)}))
        crops = {crop: t(CROP_NAMES[crop]) for crop in CROPS}
        choices(names.move_name("crop"), crops, self.setup.crop, lambda v: self.move({"crop": v}))

    def _buttons(self) -> None:
        with box("div", "onward"):
            link(t("On to the set"), address(self.desk, "set"), "btn main")
            link(t("Look around it: the atlas"), address(self.desk, "atlas"), "btn")
            button(t("Search again with what is held"), self._search_held)
            button(t("Back to what was found"), self._back, "quiet")

    def move(self, changes: Mapping[str, Any]) -> None:
        """Move something: draw at once what is quick, and ask for the rest."""
        changes = brief.carried(self.desk.sitting, self.setup, changes)
        try:
            setup = self.setup.with_changes(**changes)
        except SitwellError as error:
            self.trouble.set_text(str(error))
            self.trouble.set_visibility(True)
            return
        self.trouble.set_visibility(False)
        self.setup = setup
        self.moved.update(changes)
        if self.others is not None:
            self.others.share(setup)
        self.desk.changed()
        for move, value in changes.items():
            if move in self.sliders:
                self.sliders[move].say(value)
        self.ask()

    def ask(self) -> None:
        """Want the set-up seen; while one is being looked at only the latest is kept."""
        self.wanted = self.setup
        if self.resting is not None:
            self.resting.cancel()
            self.resting = None
        if not self.busy:
            self.busy = True
            background_tasks.create(self._see())

    async def _see(self) -> None:
        try:
            while self.wanted is not None:
                setup, self.wanted = self.wanted, None
                drawing = background_tasks.create(
                    asyncio.to_thread(self.picture.take, setup, MOVING_PX)
                )
                judged = await asyncio.to_thread(self._judge, setup)
                # told while the picture is still being drawn, so that it has nothing to wait for
                if not self.picture.is_gone:
                    with self.root:  # for the reader's language, and to draw in the right place
                        self._show(judged)
                picture = await drawing
                if self.picture.is_gone:
                    return
                with self.root:
                    self.picture.show(picture)
            self.resting = background_tasks.create(self._rest(self.setup))
        finally:
            self.busy = False

    async def _rest(self, setup: Setup) -> None:
        """When the hand rests: the fine picture, then the curves."""
        await asyncio.sleep(REST_S)
        picture = await asyncio.to_thread(self.picture.take, setup, RESTING_PX)
        fare = await self.others.judge() if self.others is not None else {}
        if self.picture.is_gone:
            return
        self.picture.show(picture)
        with self.root:
            if self.others is not None:
                self.others.show(fare)
            self.picture.say(picture)
        rows = await asyncio.to_thread(self._sweep, setup)
        if not self.picture.is_gone:
            with self.root:
                self._show_curves(setup, rows)

    def _judge(self, setup: Setup) -> Judged:
        if self.judge is None:
            self.judge = self.model.judge_for(*brief.judge_parts(self.desk.sitting), self.plan)
        return self.model.judge(self.judge, setup)

    def _sweep(self, setup: Setup) -> Swept:
        swept: Swept = {}
        for move in CURVED:
            low, high = getattr(self.comfort, move)
            values = np.linspace(low, high, CURVE_POINTS).tolist()
            swept[move] = values, self.model.curve(setup, move, values)
        return swept

    def _show(self, judged: Judged) -> None:
        self.judged = judged
        above, side = self._floors()
        self.above.draw(above)
        self.side.draw(side)
        self._fit_stage(above, side)
        self.called.set_text(names.light_words(judged.measures, self.setup, why=True) or "\u00a0")
        self.tells.show(judged)

    def _show_curves(self, setup: Setup, rows: Swept) -> None:
        self.curves.clear()
        guards = {guard.measure: guard for guard in self.judged.guards}
        with self.curves:
            words("h3", t("What changes what"))
            with box("div", "curve-grid"):
                words("span", "")
                for move in CURVED:
                    ends = names.span_words(move, *getattr(self.comfort, move))
                    words("span", f"{names.move_name(move)}: {ends}", "curve-move")
                for measure in self._curved():
                    words("span", names.measure_words(measure), "curve-name")
                    limit = guards[measure].limit if measure in guards else None
                    for move in CURVED:
                        self._curve(setup, move, measure, limit, *rows[move])

    def _curve(
        self,
        setup: Setup,
        move: str,
        measure: str,
        limit: float | None,
        values: list[float],
        seen: list[dict[str, float]],
    ) -> None:
        at = getattr(setup, move), self.judged.measures[measure]
        line = [row[measure] for row in seen]
        said = t(
            "{measure} against {move}: from {low} to {high}, here {now}",
            measure=names.measure_words(measure),
            move=names.move_name(move),
            low=names.reading_words(measure, line[0]),
            high=names.reading_words(measure, line[-1]),
            now=names.reading_words(measure, at[1]),
        )
        says = degrees, lambda value: names.axis_words(measure, value)
        ui.html(curve_svg(values, line, at, limit, said, says), sanitize=False).classes(
            "curve-cell"
        )

    def _curved(self) -> list[str]:
        """The measures that this sitter's wishes and guards turn on, wishes first."""
        asked = [gain.measure for gain in self.judged.gains]
        watched = [guard.measure for guard in self.judged.guards]
        known = [name for name in (*asked, *watched) if name in self.judged.measures]
        return list(dict.fromkeys(known))[:MOST_CURVES]

    def _why(self) -> None:
        """The planner's own reasons and leeway, as it found the set-up."""
        planned = self.planned
        with box("div", "why"):
            with box("div"):
                words("h3", t("Why these moves"))
                with box("ul"):
                    for reason in planned.reasons:
                        words("li", reason.sentence)
            with box("div"):
                words("h3", t("How far it may drift"))
                with box("dl", "drift"):
                    for row in planned.leeway:
                        with box("div"):
                            words("dt", names.move_name(row.move))
                            words("dd", names.span_words(row.move, row.low, row.high))

    def _hold(self, move: str, yes: bool) -> None:
        held = self.desk.sitting.sitter.locked
        if yes and move not in held:
            held.append(move)
        elif not yes and move in held:
            held.remove(move)
        self.desk.changed()

    def _search_held(self) -> None:
        held = self.desk.sitting.sitter.locked
        self.search({move: getattr(self.setup, move) for move in held})

    def _back(self) -> None:
        self.moved.clear()
        self.setup = self.planned.setup
        for move, slider in self.sliders.items():
            slider.put(getattr(self.setup, move))
        self.desk.changed()
        self.ask()

    def _put_above(self, told: Mapping[str, Any]) -> None:
        drawn = as_drawn(self.setup, self.room, above=True)
        self._put(dragged_above(drawn, str(told["id"]), float(told["x"]), float(told["y"])))

    def _put_side(self, told: Mapping[str, Any]) -> None:
        drawn = as_drawn(self.setup, self.room, above=False)
        self._put(dragged_side(drawn, str(told["id"]), float(told["x"]), float(told["y"])))

    def _nudge_above(self, told: Mapping[str, Any]) -> None:
        if told["id"] == "camera":
            self._put({"distance_mm": self.setup.distance_mm + NUDGE_MM * float(told["y"])})
        else:
            self._put(
                {
                    "key_azimuth_deg": self.setup.key_azimuth_deg + NUDGE_DEG * float(told["x"]),
                    "key_distance_mm": self.setup.key_distance_mm + NUDGE_MM * float(told["y"]),
                }
            )

    def _nudge_side(self, told: Mapping[str, Any]) -> None:
        down = float(told["y"])
        if told["id"] == "camera":
            height = self.setup.camera_height_mm - NUDGE_MM * down
            distance = self.setup.distance_mm + NUDGE_MM * float(told["x"])
            self._put({"camera_height_mm": height, "distance_mm": distance})
        else:
            self._put({"key_elevation_deg": self.setup.key_elevation_deg - NUDGE_DEG * down})

    def _put(self, changes: Mapping[str, float]) -> None:
        """Move what was dragged, as far as kit, room and comfort let it go."""
        reaches = brief.reaches(self.desk.sitting, self.setup)
        kept = {move: reaches[move].nearest(value) for move, value in changes.items()}
        for move, value in kept.items():
            self.sliders[move].put(value)
        self.move(kept)
