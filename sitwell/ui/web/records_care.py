"""Records, the lower half of the page: a sitting taken in, copies, going back, the passphrase."""

import asyncio
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from nicegui import ui

from sitwell.base.errors import SealError, SitwellError
from sitwell.base.words import tr
from sitwell.store.sealed import LOST_PASSPHRASE
from sitwell.ui.web.drawings import Drop
from sitwell.ui.web.locking import restore
from sitwell.ui.web.parts import box, button, notice, text_field, twice, words
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.wording import mark, t

PAPERS_TOO = mark(
    "Papers are sealed as well: what was noted at once, frames, plans and drawings when nobody "
    "has worked on the sitting for five minutes, and all of them when the pages end. What is "
    "being worked on lies in clear on this disk, and so do sheets, exports and photographs."
)


class Care:
    """Copies and the passphrase; ``on_change`` is told when the list must be drawn anew."""

    def __init__(self, server: ServerState, on_change: Callable[[], Any]) -> None:
        self.server, self.door, self.on_change = server, server.door, on_change
        self.typed = {"new": "", "again": ""}

    def draw(self) -> None:
        """What is needed now and then, behind a fold."""
        with box("details", "all-guards"):
            words("summary", t("Take in, back up, go back, seal"))
            words("h3", t("Take in an exported sitting"))
            Drop(
                "/upload/records?",
                lambda _: self.on_change(),
                ask=t("Drop a file here that Sitwell exported, or choose it"),
                hint=t("All of it is taken in, or nothing."),
                accept=".zip",
            )
            words("h3", t("Backups"))
            button(t("Back up now"), self._back_up)
            self.copies = ui.refreshable(self._copies)
            self.copies()
            self._seal()
            self.told = box("div", role="status")

    async def _back_up(self) -> None:
        await self._do(partial(self.door.back_up, None), lambda path: str(path))
        self.copies.refresh()

    def _copies(self) -> None:
        if not (known := self.door.backups()):
            words("p", t("None yet."), "hint")
            return
        with box("ul", "shelf"):
            for path in known:
                with box("li"):
                    words("span", path.name, "file")
                    twice(t("Go back to it"), t("Yes, put it in the place of the records"),
                          partial(self._restore, path))  # fmt: skip

    async def _restore(self, path: Path) -> None:
        await self._do(
            partial(restore, self.server, path),
            lambda before: t("Restored; the records of before are in {name}.", name=before.name),
        )
        self.copies.refresh()
        await self.on_change()

    def _seal(self) -> None:
        words("h3", t("A passphrase"))
        words("p", t(LOST_PASSPHRASE), "reading")
        words("p", t(PAPERS_TOO), "reading")
        for name, label in (("new", t("A new passphrase")), ("again", t("The same once more"))):
            text_field(label, "", partial(self.typed.__setitem__, name), kind="password")
        button(t("Seal the records"), self._sealed)

    async def _sealed(self) -> None:
        def seal() -> tuple[str, ...]:
            if self.typed["new"] != self.typed["again"]:
                raise SealError(tr("The two passphrases differ; type both again."))
            return self.door.seal(self.typed["new"], self.server.shelf)

        await self._do(
            seal, lambda left: " ".join((t("Sealed; write the passphrase down."), *left))
        )

    async def _do(self, work: Callable[[], Any], says: Callable[[Any], str]) -> None:
        try:
            text, kind = says(await asyncio.to_thread(work)), "note"
        except SitwellError as error:
            text, kind = str(error), "trouble"
        self.told.clear()
        with self.told:
            notice(text, kind)
