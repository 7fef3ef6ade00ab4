"""What only the photographer can say of test frames: level, what is in the way, whose face."""

from collections.abc import Callable
from typing import Any

from nicegui import ui

from sitwell.brief.in_the_way import THINGS
from sitwell.head.obscured import EAR_COVERED
from sitwell.ui.web.face_reading import FaceRead, FrameSeen
from sitwell.ui.web.frame import Desk
from sitwell.ui.web.paper import FrameNote, SitterNote, Sitting
from sitwell.ui.web.parts import box, button, choices, notice, words
from sitwell.ui.web.wording import mark, t

THINGS_NAMED = {
    "glasses": mark("Glasses"),
    "hat": mark("Hat"),
    "hair-over-brows": mark("Hair over the brows"),
    "hair-over-ears": mark("Hair over the ears"),
    "beard": mark("Beard"),
    "mask": mark("Mask"),
    "hand": mark("Hand"),
}


class Asked:
    """The questions beside a reading; ``on_change`` reads anew, ``on_answer`` only draws anew."""

    def __init__(
        self,
        desk: Desk,
        reading: FaceRead,
        on_change: Callable[[], Any],
        on_answer: Callable[[], Any],
    ) -> None:
        self.desk, self.reading = desk, reading
        self.on_change, self.on_answer = on_change, on_answer

    def draw(self) -> None:
        """Lay the questions out, each with what holds until it is answered."""
        self._one_or_two()
        self._level()
        self._in_the_way()

    def _level(self) -> None:
        """Which frame the angles count from: the nearest to square until somebody says."""
        sitter, reading = self.desk.sitting.sitter, self.reading
        if reading.head is None:
            return

        def level(frame_id: str) -> None:
            sitter.level, sitter.level_said = frame_id, True
            self.on_change()

        known = {found.id for found in reading.frames if found.seen_deg is not None}
        offered = {frame.id: frame.name for frame in sitter.frames if frame.id in known}
        offered[""] = t("an average head")
        choices(t("Straight and level is"), offered, sitter.level, level)
        if not sitter.level_said and sitter.level:
            words("p", t("The frame nearest to square; touch another if you know better."), "hint")

    def _in_the_way(self) -> None:
        """Thing by thing what lies over the face, as seen and as told."""
        sitter, seen = self.desk.sitting.sitter, things_seen(self.reading)
        with box("fieldset", "choices"):
            words("legend", t("In the way of the face"))
            with box("div", "features"):
                for thing, text in THINGS_NAMED.items():
                    there = is_there(sitter, thing, seen)
                    made = button(t(text), self._thing_toggler(thing, there, seen), "feature")
                    made.props["aria-pressed"] = "true" if there else "false"
            words("p", t("What is under it stays unknown. Touch what is not there, or is."), "hint")

    def _thing_toggler(self, thing: str, there: bool, seen: frozenset[str]) -> Callable[[], None]:
        def touch() -> None:
            say_thing(self.desk.sitting.sitter, thing, not there, seen)
            self.on_change()

        return touch

    def _one_or_two(self) -> None:
        """Frames that look unlike: whether they are one person's is asked, and acted upon."""
        sitting, reading = self.desk.sitting, self.reading
        if not reading.asks or sitting.sitter.one_person:
            return

        def one() -> None:
            sitting.sitter.one_person = True
            self.desk.changed()
            self.on_answer()

        for text in reading.asks:
            notice(text, "trouble")
        with box("div", "onward"):
            button(t("One and the same person"), one)
            for frame in [f for f in sitting.sitter.frames if f.id in reading.unlike][-1:]:
                button(t("Two: {name} shows another sitter", name=frame.name), self._mover(frame))

    def _mover(self, frame: FrameNote) -> Callable[[], None]:
        def move() -> None:
            move_to_another(self.desk.sitting, frame)
            self.desk.changed()
            ui.navigate.reload()

        return move


def things_seen(reading: FaceRead) -> frozenset[str]:
    """The things, by the photographer's names, that count as in the way in any frame."""
    named = {thing: thing for thing in THINGS} | dict.fromkeys(
        EAR_COVERED.values(), "hair-over-ears"
    )
    return frozenset(named[thing] for frame in reading.frames for thing in frame.things)


def is_there(sitter: SitterNote, thing: str, seen: frozenset[str]) -> bool:
    """Whether a thing counts as in the way: told, or seen and not denied."""
    return thing in sitter.in_the_way or (thing in seen and thing not in sitter.without)


def say_thing(sitter: SitterNote, thing: str, there: bool, seen: frozenset[str]) -> None:
    """Note that a thing is there, or is not; a frame that seems to show it is denied."""
    sitter.in_the_way = [name for name in sitter.in_the_way if name != thing]
    sitter.without = [name for name in sitter.without if name != thing]
    if there:
        sitter.in_the_way.append(thing)
    elif thing in seen:
        sitter.without.append(thing)


def move_to_another(sitting: Sitting, frame: FrameNote) -> None:
    """Give a frame to the next sitter, or to a new one, whose turn it then is.

    Nothing of it is measured for them before they have said their own yes.
    """
    sitter = sitting.sitter
    sitter.frames.remove(frame)
    if sitter.level == frame.id:
        sitter.level, sitter.level_said = "", False
    if len(sitting.sitters) == 1:
        sitting.sitters.append(SitterNote())
    sitting.at = (sitting.sitters.index(sitter) + 1) % len(sitting.sitters)
    sitting.sitter.frames.append(frame)


def faces_to_tap(frame: FrameNote, found: FrameSeen | None) -> list[dict[str, Any]]:
    """The faces of a frame that shows several, so that the sitter's can be tapped."""
    boxes = found.faces_px if found else ()
    if len(boxes) < 2:
        return []
    return [
        {
            "number": number,
            "box": face_box,
            "name": t("face {number} from camera left: the sitter’s", number=number),
            "chosen": number == frame.face,
        }
        for number, face_box in enumerate(boxes, start=1)
    ]
