"""Two frames of a burst beside one another, at the eyes; zoom and pan move both."""

import asyncio
import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from nicegui.element import Element
from PIL import Image

from sitwell.base.errors import SitwellError
from sitwell.base.files import write_atomically
from sitwell.brief.photos import open_photo
from sitwell.face.landmarks import FaceReading, find_faces
from sitwell.sort.rank import Ranked, RankedBurst
from sitwell.ui.web.frame import Desk
from sitwell.ui.web.parts import box, button, notice, pick, words
from sitwell.ui.web.sorting import SortWork
from sitwell.ui.web.wording import t

# Enough to tell lashes in a head-and-shoulders frame, and quick to send.
CLOSE_SIDE_PX = 3600
# Corners of the eyes in the landmark model's face mesh.
EYE_CORNERS = ((33, 133), (362, 263))
# Where eyes usually are in a face's box, and how far apart, where none were found; round figures.
USUAL_EYES, USUAL_BETWEEN = (0.5, 0.38), 0.42


@dataclass(frozen=True, slots=True, kw_only=True)
class Close:
    """One frame to look at closely: our view of it and where the eyes are, in its own pixels."""

    file: str
    name: str
    width: int
    height: int
    eyes: tuple[float, float]
    between: float

    def pane(self, sitting_id: str) -> dict[str, Any]:
        """What the browser is told."""
        return {
            "file": self.file,
            "src": f"/drawn/{sitting_id}/{self.name}",
            "alt": self.file,
            "width": self.width,
            "height": self.height,
            "eyes": list(self.eyes),
            "between": self.between,
        }


def look_closely(work: SortWork, frame: Ranked) -> Close:
    """Make a large view of a frame in our own folder, and find the eyes of its largest face."""
    photo = open_photo(work.folder / frame.file, largest_side_px=CLOSE_SIDE_PX)
    image = Image.fromarray(photo.rgb)
    image.thumbnail((CLOSE_SIDE_PX, CLOSE_SIDE_PX))
    name = f"close-{hashlib.sha256(frame.file.encode()).hexdigest()[:16]}.jpg"
    made = BytesIO()
    image.save(made, "JPEG", quality=90)
    write_atomically(work.state / "drawn" / name, made.getvalue())
    share = image.width / photo.width_px
    faces = find_faces(photo)
    eyes, between = (
        _eyes(max(faces, key=lambda face: face.side_px), share)
        if faces
        else _guess(frame, image.width, image.height)
    )
    return Close(
        file=frame.file,
        name=name,
        width=image.width,
        height=image.height,
        eyes=eyes,
        between=between,
    )


def _eyes(face: FaceReading, share: float) -> tuple[tuple[float, float], float]:
    """The midpoint between the eyes and how far they are apart, in the view's pixels."""
    middles = [face.landmarks_px[list(corners)].mean(axis=0) for corners in EYE_CORNERS]
    middle = share * (middles[0] + middles[1]) / 2
    between = share * float(np.linalg.norm(middles[0] - middles[1]))
    return (float(middle[0]), float(middle[1])), max(between, 1.0)


def _guess(frame: Ranked, width: int, height: int) -> tuple[tuple[float, float], float]:
    """Where the eyes usually are in the box that sorting found; the middle where it found none."""
    left, top, right, bottom = frame.faces[0] if frame.faces else (0.3, 0.2, 0.7, 0.8)
    x = (left + USUAL_EYES[0] * (right - left)) * width
    y = (top + USUAL_EYES[1] * (bottom - top)) * height
    return (x, y), max(USUAL_BETWEEN * (right - left) * width, 1.0)


class Pairs(Element, component="assets/pairs.js"):
    """The two frames, linked."""

    def __init__(self) -> None:
        super().__init__()
        self.props["panes"] = []
        self.props["words"] = {
            "group": t("Both frames at the eyes; drag, or use the arrow keys, plus and minus"),
            "size": t("Larger"),
            "across": t("{n} times the distance between the eyes", n="{n}"),
            "eyes": t("the eyes"),
            "face": t("the face"),
        }

    def show(self, panes: list[dict[str, Any]]) -> None:
        """Show other frames; place and size stay."""
        self.props["panes"] = panes
        self.update()


class Comparison:
    """A burst's two frames under a microscope, opened on request; either can be put forward."""

    def __init__(
        self, desk: Desk, work: SortWork, burst: RankedBurst, choose: Callable[[str], Any]
    ) -> None:
        self.desk, self.work, self.burst, self.choose = desk, work, burst, choose
        best = burst.best or burst.frames[0]
        other = next(frame for frame in burst.frames if frame is not best)
        self.files = [best.file, other.file]
        self.close: dict[str, Close] = {}
        with box("div", "compare") as self.root:
            button(t("Compare two at the eyes"), self.open, "small")

    async def open(self) -> None:
        """Lay two frames out."""
        self.root.clear()
        with self.root:
            with box("div", "compare-picks"):
                for side, label in enumerate((t("First frame"), t("Second frame"))):
                    self._pick(side, label)
            self.trouble = notice("", "trouble")
            self.trouble.set_visibility(False)
            self.says = words("p", t("A moment ..."), "hint")
            self.pairs = Pairs()
            with box("div", "compare-choose"):
                for side, text in enumerate(
                    (t("Put the first forward"), t("Put the second forward"))
                ):
                    button(text, self._chooser(side), "small")
        await self._show()

    def _pick(self, side: int, label: str) -> None:
        async def change(file: str) -> None:
            self.files[side] = file
            await self._show()

        names = {frame.file: f"{frame.place}. {frame.file}" for frame in self.burst.frames}
        with box("div"):
            pick(label, names, self.files[side], change)

    def _chooser(self, side: int) -> Callable[[], Any]:
        async def put_forward() -> None:
            await self.choose(self.files[side])

        return put_forward

    async def _show(self) -> None:
        try:
            for file in self.files:
                if file not in self.close:
                    frame = next(f for f in self.burst.frames if f.file == file)
                    self.close[file] = await asyncio.to_thread(look_closely, self.work, frame)
        except (SitwellError, OSError) as error:
            self.trouble.set_text(str(error))
            self.trouble.set_visibility(True)
            return
        if self.pairs.is_deleted:
            return
        self.trouble.set_visibility(False)
        self.says.set_text(" – ".join(self.files))
        panes = [self.close[file].pane(self.desk.sitting.id) for file in self.files]
        # the same frame may be on both sides, for a moment
        self.pairs.show([{**pane, "file": f"{i} {pane['file']}"} for i, pane in enumerate(panes)])
