"""The one door to pictures of a sitter: their likeness where it can be believed, else a drawing."""

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image as Raster

from sitwell.base.words import joined, mark, number, tr
from sitwell.head.surface import Head
from sitwell.likeness.likeness import Likeness, likeness_of, why_none
from sitwell.likeness.line_drawing import LineDrawing
from sitwell.likeness.vector_drawing import Drawing
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import Sitter
from sitwell.scene.view import View

Pixels = NDArray[np.uint8]
Image = Pixels | Drawing

JPEG_QUALITY = 86
LEAST_TOLD = 0.005  # of the person's area: less is not told as made up
LEAST_TURN_DEG = 8.0  # from here a frame is asked for by the side that the sitter turns to

MADE = mark("Made from your frames; it is no photograph.")
MADE_IN_PART = mark(
    "Made from your frames; it is no photograph. What no frame has shown is made up: {percent} %."
)
SOME_DRAWN = mark("Made from your frames where they show enough, else drawn; it is no photograph.")
HARD_LIT = mark("The light in your frame is hard; one in flat light would show the plan’s better.")
DRAWN = mark("Drawn from the head as measured; the hair is nobody’s.")
TOO_FAR = mark(
    "Drawn, since this view is {angle}° from your nearest frame, too far for a picture made from "
    "it. {frame}"
)
FRAME_LIKE_IT = mark("A frame in this pose would show it.")
FRAME_TURNED = (
    mark("A frame turned about {angle}° to the sitter’s own right would show it."),
    mark("A frame turned about {angle}° to the sitter’s own left would show it."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Portrait:
    """A picture of a sitter in a set-up, (H, W, 3) or a drawing, and what must be said with it.

    ``made_up_share`` is how much of the person in it no frame has shown, 0 for a drawing.
    """

    image: Image
    caption: str
    made_up_share: float = 0.0

    @property
    def is_drawn(self) -> bool:
        """Whether it is a drawing."""
        return isinstance(self.image, Drawing)

    def pixels(self) -> Pixels:
        """The picture (H, W, 3), sRGB."""
        return self.image.pixels() if isinstance(self.image, Drawing) else self.image

    def encoded(self) -> tuple[bytes, str]:
        """The picture as a browser takes it, SVG or JPEG, and its media type."""
        if isinstance(self.image, Drawing):
            return self.image.svg().encode(), "image/svg+xml"
        made = BytesIO()
        Raster.fromarray(self.image).save(made, "JPEG", quality=JPEG_QUALITY)
        return made.getvalue(), "image/jpeg"

    def source(self) -> str:
        """The picture as an address that holds all of it, for a page."""
        content, kind = self.encoded()
        return f"data:{kind};base64,{base64.b64encode(content).decode()}"


class Portrayal:
    """Pictures of one sitter; they share buffers, so one is made at a time.

    ``likeness`` is made from their frames; without one, all are drawn.
    """

    def __init__(self, head: Head, likeness: Likeness | None = None) -> None:
        self._head = head
        self.likeness = likeness  # may come later

    @cached_property
    def drawing(self) -> LineDrawing:
        """The head prepared for drawings."""
        return LineDrawing(self._head)

    def view(self, setup: Setup) -> View:
        """The head posed before the set-up's camera; valid until the next look."""
        return self.drawing.view(setup)

    def portrait(
        self, setup: Setup, height_px: int, *, drawn: bool = False, tell_made_up: bool = False
    ) -> Portrait:
        """The sitter in a set-up, in its own format.

        ``drawn`` asks for the drawing whatever the frames show; ``tell_made_up`` shows which parts
        of a likeness no frame has shown.
        """
        wide, high = (float(part) for part in setup.aspect.split(":"))
        width_px = round(height_px * wide / high)
        if drawn or self.likeness is None:
            image = self.drawing.draw(setup, width_px, height_px)
            return Portrait(image=image, caption=tr(DRAWN))
        reach = self.likeness.reach(setup)
        if not reach.believable:
            caption = tr(
                TOO_FAR, angle=number(reach.from_frame_deg, 0), frame=self.frame_to_take(setup)
            )
            return Portrait(image=self.drawing.draw(setup, width_px, height_px), caption=caption)
        made = self.likeness.picture(setup, width_px, height_px, tell_made_up=tell_made_up)
        told = made.made_up_share >= LEAST_TOLD
        percent = number(max(100.0 * made.made_up_share, 1.0), 0)
        caption = tr(MADE_IN_PART, percent=percent) if told else tr(MADE)
        return Portrait(
            image=made.pixels,
            caption=joined((caption, tr(HARD_LIT))) if reach.hard_lit else caption,
            made_up_share=made.made_up_share,
        )

    def believed(self, setup: Setup) -> Likeness | None:
        """The likeness, where its picture of a set-up can be believed."""
        likeness = self.likeness
        return likeness if likeness and likeness.reach(setup).believable else None

    def frames_to_take(self, setups: Sequence[Setup]) -> tuple[str, ...]:
        """The frames that would show those set-ups that can only be drawn, each once, in words.

        None without a likeness: then no frame would.
        """
        if self.likeness is None:
            return ()
        far = [setup for setup in setups if not self.likeness.reach(setup).believable]
        return tuple(dict.fromkeys(self.frame_to_take(setup) for setup in far))

    def is_hard_lit(self, setups: Sequence[Setup]) -> bool:
        """Whether a frame's own hard light stays in any of their pictures."""
        if self.likeness is None:
            return False
        reaches = [self.likeness.reach(setup) for setup in setups]
        return any(reach.believable and reach.hard_lit for reach in reaches)

    def frame_to_take(self, setup: Setup) -> str:
        """The frame that would show a set-up's view, in words."""
        turn_deg = self.view(setup).seen_turn_deg
        if abs(turn_deg) < LEAST_TURN_DEG:
            return tr(FRAME_LIKE_IT)
        return tr(FRAME_TURNED[turn_deg > 0], angle=number(abs(turn_deg), 0))


def portrayal_of(sitter: Sitter) -> tuple[Portrayal, str]:
    """Pictures of a sitter as read, and why they are all drawn though there are frames, or ""."""
    if not sitter.reading.frames:  # scanned, or kept
        return Portrayal(sitter.head), ""
    likeness = likeness_of(sitter.reading, sitter.head)
    return Portrayal(sitter.head, likeness), "" if likeness else why_none(sitter.reading)
