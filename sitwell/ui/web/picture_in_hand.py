"""The picture of a set-up in hand, what is said with it, and the switch for what is made up."""

from collections.abc import Callable
from dataclasses import dataclass

from nicegui import ui

from sitwell.base.words import retold
from sitwell.scene.setup import Setup
from sitwell.ui.web.parts import attributed, box, check, words
from sitwell.ui.web.planning import Model
from sitwell.ui.web.wording import t


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A picture as the page takes it, and what must be said with it."""

    source: str
    caption: str


class PictureInHand:
    """Made in a thread (``take``), shown on the page (``show``)."""

    def __init__(self, model: Model, again: Callable[[], None]) -> None:
        """``again`` asks for the picture anew."""
        self._model, self._again, self._tells_made_up = model, again, False

    def draw(self, aspect: str) -> None:
        """The picture's place."""
        wide, high = aspect.split(":")
        with box("figure", "seen"):
            alt = t("The sitter as the camera sees them")
            self.image = attributed(ui.element("img"), alt=alt, width=wide, height=high)
            self.image.style(f"aspect-ratio: {wide} / {high}; --aspect: {wide} / {high}")

    def draw_words(self) -> None:
        """What is said with it, and the switch."""
        self._caption = words("p", "\u00a0", "hint skin")
        check(t("Show what is made up"), self._tells_made_up, self._tell_made_up)

    def take(self, setup: Setup, height_px: int) -> Taken:
        """The picture of a set-up."""
        portrait = self._model.portrait(setup, height_px, tell_made_up=self._tells_made_up)
        return Taken(source=portrait.source(), caption=portrait.caption)

    @property
    def is_gone(self) -> bool:
        """Whether the page no longer has a place for it."""
        return self.image.is_deleted

    def show(self, taken: Taken) -> None:
        """Put a picture in its place."""
        self.image.props["src"] = taken.source
        self.image.update()

    def say(self, taken: Taken) -> None:
        """Say what must be said with it, in the reader's language."""
        self._caption.set_text(retold(taken.caption))

    def _tell_made_up(self, yes: bool) -> None:
        self._tells_made_up = yes
        self._again()
