"""The first page: begin a sitting, or go on with one; what is sealed, damaged or about to go."""

import asyncio
from datetime import date, datetime
from functools import partial

from nicegui import ui

from sitwell.base.errors import SealError
from sitwell.store.days import day_words
from sitwell.ui.web.documents import Damaged, Shelf
from sitwell.ui.web.drawings import Drop
from sitwell.ui.web.example_sitting import begin_example, bring_frames
from sitwell.ui.web.locking import in_clear, unlock
from sitwell.ui.web.paper import Sitting
from sitwell.ui.web.parts import box, button, link, notice, text_field, twice, words
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.wording import mark, t, tn

FIRST_HINTS = (
    mark("Talk: ask for a yes, and note what the sitter brings up; nothing else becomes a wish."),
    mark("Read: drop a frame, level and straight on, and one turned to each side."),
    mark("Plan: search, open a set-up, and move what you like while its picture follows."),
)


def content(server: ServerState) -> None:
    """A new sitting, and those on the shelf."""
    shelf = server.shelf
    words("p", t("Read the face, plan the set, speak kindly, shoot."), "lead")
    if in_clear(server):
        _locked(server)

    def begin() -> None:
        sitting = shelf.new()
        server.gear.carry(sitting)
        shelf.write(sitting)
        ui.navigate.to(f"/s/{sitting.id}/talk")

    async def example() -> None:
        sitting = begin_example(shelf)
        waiting.set_visibility(True)
        await asyncio.to_thread(bring_frames, shelf, sitting)
        ui.navigate.to(f"/s/{sitting.id}/read")

    with box("div", "onward"):
        button(t("Begin a sitting"), begin, "main")
        button(t("Look around with an example"), example, "quiet")
    waiting = notice(t("Three frames of an invented head are being drawn; some seconds."))
    waiting.set_visibility(False)
    if not shelf.has_any():
        with box("ol", "first-hints"):
            for hint in FIRST_HINTS:
                words("li", t(hint))
    Drop(
        "/upload/brief?",
        lambda told: ui.navigate.to(f"/s/{told['id']}/talk"),
        ask=t("Or drop a brief here, or choose it"),
        hint=t("TOML or JSON; its frames are brought once the sitter has said yes."),
        accept=".json,.toml",
    )
    for text in server.door.still_to_erase():
        notice(text, "trouble")
    for damaged in shelf.damaged():
        _damaged(server, damaged)
    for sitting in shelf.ending(date.today()):
        notice(
            t(
                "The papers of {title} are erased after {day}; to keep them longer, choose a "
                "later day on the Talk page.",
                title=sitting.title(),
                day=day_words(sitting.keep_until),
            )
        )
    _on_the_table(shelf)


def _on_the_table(shelf: Shelf) -> None:
    if sittings := list(shelf.all()):
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
        words("span", t("kept until {day}", day=day_words(sitting.keep_until)), "hint")


def _locked(server: ServerState) -> None:
    """Ask for the passphrase, which stays in this server's memory until it ends."""
    said = box("div", role="status")

    async def typed(text: str) -> None:
        try:
            await asyncio.to_thread(unlock, server, text)
        except SealError as error:
            said.clear()
            with said:
                notice(str(error), "trouble")
            return
        ui.navigate.reload()

    count = len(server.shelf.locked())
    if count:
        notice(tn("{count} sitting is sealed.", "{count} sittings are sealed.", count))
    notice(
        t(
            "The records are sealed. Until you give their passphrase, papers written here lie in "
            "clear on this disk."
        ),
        "trouble",
    )
    text_field(t("The passphrase of the records"), "", typed, kind="password")


def _damaged(server: ServerState, damaged: Damaged) -> None:
    """Papers that can't be read, and a way to be rid of them."""

    def erase(sitting_id: str) -> None:
        server.forget(sitting_id)
        ui.navigate.reload()

    notice(damaged.sentence(), "trouble")
    words("p", t("They are erased after {day}.", day=day_words(damaged.keep_until)), "hint")
    twice(t("Erase these papers"), t("Yes, erase them unread"), partial(erase, damaged.id))
