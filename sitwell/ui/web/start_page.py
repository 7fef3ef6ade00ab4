"""The first page: begin a sitting, or go on with one."""

from datetime import datetime

from nicegui import ui

from sitwell.ui.web.documents import Shelf, Sitting
from sitwell.ui.web.parts import box, button, link, words
from sitwell.ui.web.wording import t, tn


def content(shelf: Shelf) -> None:
    """A new sitting, and those on the shelf."""
    words("p", t("Read the face, plan the set, speak kindly, shoot."), "lead")

    def begin() -> None:
        ui.navigate.to(f"/s/{shelf.new().id}/talk")

    button(t("Begin a sitting"), begin, "main")
    sittings = list(shelf.all())
    if sittings:
        words("h2", t("On the table"))
        with box("ul", "shelf"):
            for sitting in sittings:
                _row(sitting)


def _row(sitting: Sitting) -> None:
    day = datetime.fromisoformat(sitting.created).astimezone()
    frames = sum(len(sitter.frames) for sitter in sitting.sitters)
    with box("li"):
        link(sitting.title(), f"/s/{sitting.id}/talk")
        words("span", f"{day:%Y-%m-%d}", "hint")
        words("span", tn("{count} frame", "{count} frames", frames), "hint")
        words("span", t("kept until {day}", day=f"{sitting.keep_until:%Y-%m-%d}"), "hint")
