"""The parts that need the browser's help: the plan drawing, the plate with marks, the drop."""

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from nicegui.element import Element

from sitwell.ui.web.floor_parts import Floor
from sitwell.ui.web.wording import t

FRAMES = "image/*,.arw,.cr2,.cr3,.dng,.nef,.orf,.raf,.rw2,.pef,.srw,.heic,.heif"
Told = Callable[[dict[str, Any]], Any]


class FloorDrawing(Element, component="assets/floor.js"):
    """A plan drawing; ``on_put`` is told id, x, y in mm, ``on_nudge`` id and steps x, y."""

    def __init__(
        self, floor: Floor, on_put: Told | None = None, on_nudge: Told | None = None
    ) -> None:
        super().__init__()
        self.props["still"] = on_put is None
        self.draw(floor)
        if on_put is not None:
            self.on("put", lambda event: on_put(event.args))
        if on_nudge is not None:
            self.on("nudge", lambda event: on_nudge(event.args))

    def draw(self, floor: Floor) -> None:
        """Show another state of the set."""
        for name, value in dataclasses.asdict(floor).items():
            self.props[name] = value
        self.update()


class Plate(Element, component="assets/marks.js"):
    """A test frame with dots, wire and marks over it, all in full-size pixels.

    ``on_put`` is told id with x and y, or with away; the armed mark is the one a touch places.
    ``on_face`` is told which of several faces was tapped, from 1 at camera left.
    """

    def __init__(
        self, *, src: str, alt: str, size: tuple[int, int], on_put: Told, on_face: Told
    ) -> None:
        super().__init__()
        self.props["src"], self.props["alt"] = src, alt
        self.props["width"], self.props["height"] = size
        self.lay(dots=(), wire="", marks=(), armed="", show={}, faces=())
        self.on("face", lambda event: on_face(event.args))
        self.on("put", lambda event: on_put(event.args))

    def lay(
        self,
        *,
        dots: Sequence[tuple[float, float]],
        wire: str,
        marks: Sequence[Mapping[str, Any]],
        armed: str,
        show: Mapping[str, bool],
        faces: Sequence[Mapping[str, Any]],
    ) -> None:
        """Lay a reading and marks over the frame; ``faces`` to tap where it shows several."""
        self.props["faces"] = list(faces)
        self.props["dots"], self.props["wire"] = list(dots), wire
        self.props["marks"], self.props["armed"] = list(marks), armed
        self.props["show"] = dict(show)
        self.update()


class Drop(Element, component="assets/drop.js"):
    """A place to drop files; each is sent to an address, and ``on_landed`` is told its id.

    Frames, unless it asks for another kind by its suffixes in ``accept``.
    """

    def __init__(
        self, to: str, on_landed: Told, *, ask: str = "", hint: str = "", accept: str = FRAMES
    ) -> None:
        super().__init__()
        self.props["to"], self.props["accept"] = to, accept
        self.props["words"] = {
            "ask": ask or t("Drop frames here, or choose them"),
            "hint": hint
            or t("JPEG, PNG, TIFF, WebP, HEIF or raw; your own files stay where they are."),
            "lost": t("The file did not arrive; drop it again."),
        }
        self.on("landed", lambda event: on_landed(event.args))
