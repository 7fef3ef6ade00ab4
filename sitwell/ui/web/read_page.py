"""Read: test frames in, landmarks and head laid over them, marks to correct, what to shoot next."""

import asyncio
from collections.abc import Callable, Mapping
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from sitwell.base.words import retold
from sitwell.brief.marks import LINE_NAMES
from sitwell.likeness.portrayal import HARD_LIT
from sitwell.ui.web.consent import ask_here
from sitwell.ui.web.drawings import Drop, Plate
from sitwell.ui.web.face_reading import LEVEL, OWN_LEFT, OWN_RIGHT, FaceRead, FrameSeen
from sitwell.ui.web.frame import Desk, address, choose_sitter
from sitwell.ui.web.paper import FrameNote
from sitwell.ui.web.parts import (
    Progress,
    attributed,
    box,
    button,
    check,
    choices,
    link,
    notice,
    words,
)
from sitwell.ui.web.said_of_frames import Asked, faces_to_tap
from sitwell.ui.web.wording import degrees, length, mark, number, t

MARKS = {
    "ear_top_own_left": mark("their left ear, top"),
    "ear_outer_own_left": mark("their left ear, outer edge"),
    "ear_lobe_own_left": mark("their left ear, lobe"),
    "ear_top_own_right": mark("their right ear, top"),
    "ear_outer_own_right": mark("their right ear, outer edge"),
    "ear_lobe_own_right": mark("their right ear, lobe"),
    "hairline": mark("hairline"),
    "nose_ridge": mark("ridge of the nose"),
    "nose_tip": mark("tip of the nose"),
    "chin": mark("chin"),
}
MARK_HINT = mark(
    "A mark takes seconds and is surer than a program: ears under hair, hairline, ridge. Touch a "
    "name and it is laid where it should be; drag it home, or use the arrow keys. Delete takes it "
    "away."
)


def content(desk: Desk) -> None:
    """Frames, the plate with the marks, and what is known of the head."""
    words("p", t("One to three frames: level and straight on, and turned to each side."), "lead")

    @ui.refreshable
    def whole() -> None:
        if not ask_here(desk, whole.refresh):
            _Reader(desk).draw()

    whole()


class _Reader:
    """The page's moving parts for the sitter in hand.

    The plate and the marks' buttons stay while marks move and readings come in, so that neither
    the keyboard nor a finger loses its place; only what is known is drawn anew.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.frame_id = ""
        self.armed = ""
        self.show = {"head": True, "dots": True}
        self.plate: Plate | None = None
        self.buttons: dict[str, TextElement] = {}
        self.table = ui.refreshable(self._table)
        self.known = ui.refreshable(self._known)
        self.seen: object = None

    @property
    def reading(self) -> FaceRead | None:
        return self.desk.server.reading(self.desk.sitting)

    @property
    def frame(self) -> FrameNote:
        frames = self.desk.sitting.sitter.frames
        return next((frame for frame in frames if frame.id == self.frame_id), frames[0])

    @property
    def found(self) -> FrameSeen | None:
        if not self.desk.sitting.sitter.frames:
            return None
        frames = self.reading.frames if self.reading else ()
        return next((frame for frame in frames if frame.id == self.frame.id), None)

    def draw(self) -> None:
        desk = self.desk
        choose_sitter(desk)
        at = desk.sitting.sitters.index(desk.sitting.sitter)
        Drop(f"/upload/{desk.sitting.id}/{at}?tab={desk.tab}", lambda _: self._landed())
        self.progress = Progress(
            lambda: desk.server.workshop.stop(desk.server.key(desk.sitting, "read"))
        )
        self.trouble = notice("", "trouble")
        self.trouble.set_visibility(False)
        self.table()
        ui.timer(0.2, self._look)
        if self.reading is None:
            self._begin()

    def _landed(self) -> None:
        self.table.refresh()
        self._begin()

    def _begin(self) -> None:
        self.desk.server.begin_reading(self.desk.sitting)

    def _look(self) -> None:
        """Show how far the reading is, and what it found when it has come."""
        job = self.desk.server.job(self.desk.sitting, "read")
        self.progress.follow(job)
        self.trouble.set_text(job.trouble if job else "")
        self.trouble.set_visibility(bool(job and job.trouble))
        if self.reading is not self.seen:
            self.seen = self.reading
            self._lay()
            self.known.refresh()

    def _table(self) -> None:
        frames = self.desk.sitting.sitter.frames
        if not frames:
            self.plate = None
            _advice(None, 0)
            return
        self.frame_id = self.frame.id
        with box("div", "reading-table"):
            with box("div"):
                self._frames()
                self.plate = Plate(
                    src=f"/frame/{self.desk.sitting.id}/{self.frame.id}",
                    alt=t("Test frame {name}", name=self.frame.name),
                    size=(self.frame.width_px, self.frame.height_px),
                    on_put=self._put,
                    on_face=self._choose_face,
                )
            with box("div", "known"):
                self.known()
                self._marks()
                self._below()
        self._lay()

    def _lay(self) -> None:
        """Lay what was read and placed over the frame."""
        if self.plate is None or self.plate.is_deleted or not self.desk.sitting.sitter.frames:
            return  # the sitter in hand may just have changed
        found, frame = self.found, self.frame
        self.plate.lay(
            dots=found.dots if found else (),
            wire=found.wire if found else "",
            marks=placed_marks(frame),
            armed=self.armed,
            show=self.show,
            faces=faces_to_tap(frame, found),
        )
        for name, made in self.buttons.items():
            made.props["aria-pressed"] = "true" if name in frame.marks else "false"
            armed = name == self.armed
            made.classes(add="armed" if armed else "", remove="" if armed else "armed")
            made.update()
        self.next_step.set_text(t("now touch the place in the frame") if self.armed else "")

    def _frames(self) -> None:
        frames = self.desk.sitting.sitter.frames

        def choose(frame_id: str) -> None:
            self.frame_id, self.armed = frame_id, ""
            self.table.refresh()

        if len(frames) > 1:
            names = {frame.id: frame.name for frame in frames}
            choices(t("Frame"), names, self.frame_id, choose, "unnamed")

    def _put(self, told: Mapping[str, Any]) -> None:
        put_mark(self.frame, str(told["id"]), told)
        if str(told["id"]) not in LINE_NAMES:
            self.armed = ""
        self._marked()

    def _marked(self) -> None:
        self.desk.changed()
        self._lay()
        self._begin()

    def _known(self) -> None:
        """What the reading says of this frame."""
        found = self.found
        if found is not None and found.trouble:
            notice(found.trouble, "trouble")
            if len(found.faces_px) > 1:
                words("p", t("Touch the sitter’s face in the frame."), "hint")
        if found is not None and found.seen_deg is not None:
            _angles(found)
        for note in found.notes if found else ():
            notice(note)
        if self.reading is not None:
            Asked(self.desk, self.reading, self._marked, self.known.refresh).draw()
        asked = _advice(self.reading, len(self.desk.sitting.sitter.frames))
        ui.timer(0.0, lambda: _ask_for_views(self.desk, asked), once=True)
        if self.reading is not None and self.reading.head is not None:
            link(t("On to the plan"), address(self.desk, "plan"), "btn main")

    def _choose_face(self, told: Mapping[str, Any]) -> None:
        self.frame.face = int(told["number"])
        self._marked()

    def _marks(self) -> None:
        words("h2", t("Marks"), "sub")
        words("p", t(MARK_HINT), "hint")
        with box("div", "features"):
            self.buttons = {
                name: button(t(text), self._toucher(name), "feature")
                for name, text in MARKS.items()
            }
        self.next_step = attributed(words("p", "", "hint"), role="status")

    def _toucher(self, name: str) -> Callable[[], None]:
        def touch() -> None:
            frame, found = self.frame, self.found
            proposed = found.proposed.get(name) if found else None
            if name in frame.marks and name not in LINE_NAMES:
                put_mark(frame, name, {"away": True})
            elif proposed is not None:
                put_mark(frame, name, {"x": proposed[0], "y": proposed[1]})
            else:
                self.armed = "" if self.armed == name else name
                self._lay()
                return
            self._marked()

        return touch

    def _below(self) -> None:
        words("h2", t("Laid over the frame"), "sub")

        def see(what: str) -> Callable[[bool], None]:
            def set_it(yes: bool) -> None:
                self.show = {**self.show, what: yes}
                self._lay()

            return set_it

        with box("div", "ticks"):
            check(t("the head"), self.show["head"], see("head"))
            check(t("the landmarks"), self.show["dots"], see("dots"))

        def take_out() -> None:
            self.desk.shelf.take_out(self.desk.sitting, self.frame)
            self.desk.changed()
            self._landed()

        button(t("Take this frame off the table"), take_out, "quiet")


def placed_marks(frame: FrameNote) -> list[dict[str, Any]]:
    """The marks of a frame as the plate draws them; a line's points are numbered."""
    placed = []
    for name, value in frame.marks.items():
        text = t(MARKS.get(name, name))
        points = value if name in LINE_NAMES else [value]
        for index, (x, y) in enumerate(points):
            key = f"{name}:{index}" if name in LINE_NAMES else name
            at = t("{x} across, {y} down", x=f"{x:.0f}", y=f"{y:.0f}")
            placed.append({"id": key, "x": x, "y": y, "name": text, "value": at})
    return placed


def put_mark(frame: FrameNote, key: str, told: Mapping[str, Any]) -> None:
    """Put a mark where it was dragged, or take it away; a line gets one more point by its name."""
    name, _, index = key.partition(":")
    spot = [float(told.get("x", 0.0)), float(told.get("y", 0.0))]
    if name not in LINE_NAMES:
        if told.get("away"):
            frame.marks.pop(name, None)
        else:
            frame.marks[name] = spot
        return
    line = frame.marks.setdefault(name, [])
    if not index:
        line.append(spot)
    elif told.get("away"):
        line.pop(int(index))
    else:
        line[int(index)] = spot
    if not line:
        frame.marks.pop(name)


def _angles(found: FrameSeen) -> None:
    """Turn, chin and tilt as the picture shows them, each with its spread."""
    if found.seen_deg is None or found.spread_deg is None:
        return
    names = (t("turn"), t("chin"), t("tilt"))
    with box("dl", "figures"):
        for name, value, spread in zip(names, found.seen_deg, found.spread_deg, strict=True):
            with box("div"):
                words("dt", name)
                words("dd", degrees(value))
                words("dd", t("give or take {spread}", spread=f"{number(spread)}°"), "hint")
        if found.distance_mm is not None:
            with box("div"):
                words("dt", t("distance"))
                words("dd", length(found.distance_mm))
                words("dd", t("if the pupils are 63 mm apart"), "hint")


def _advice(reading: FaceRead | None, frames: int) -> ui.element:
    """What to shoot next, laid out only; gives the list."""
    with box("div", "advice"):
        words("h2", t("What to shoot next"), "sub")
        with box("ul") as asked:
            for text in reading.advice if reading else FIRST_FRAMES[frames:]:
                words("li", t(text))
    return asked


async def _ask_for_views(desk: Desk, asked: ui.element) -> None:
    """Ask for the frames that would show what of the plan the ones so far do not."""
    plan, model = desk.server.plan(desk.sitting), desk.server.model(desk.sitting)
    if plan is None or model is None:
        return
    setups = [planned.setup for planned in plan.setups]
    frames = await asyncio.to_thread(model.frames_to_take, setups)
    is_hard_lit = await asyncio.to_thread(model.is_hard_lit, setups)
    if not asked.is_deleted:
        with asked:
            if is_hard_lit:
                words("li", t(HARD_LIT))
            for frame in frames:
                told = t(
                    "A view of the plan can only be drawn so far. {frame}", frame=retold(frame)
                )
                words("li", told)


FIRST_FRAMES = (LEVEL, OWN_LEFT, OWN_RIGHT)
