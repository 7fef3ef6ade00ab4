"""Records: what may be kept of this sitting, who is in the records, and having it all forgotten."""

import asyncio
from collections.abc import Callable
from typing import Any

from nicegui import ui

from sitwell.base.errors import ConsentError, SealError, SitwellError
from sitwell.base.words import tr
from sitwell.store.days import day_words
from sitwell.store.sittings import Made, Yes
from sitwell.ui.records_door import SitterLine
from sitwell.ui.web import brief
from sitwell.ui.web.frame import Desk, address, choose_sitter
from sitwell.ui.web.locking import unlock
from sitwell.ui.web.parts import box, button, choices, link, notice, text_field, twice, words
from sitwell.ui.web.records_care import Care
from sitwell.ui.web.wording import t, tn

WORKED = {"yes": True, "no": False, "": None}


def content(desk: Desk) -> None:
    """Keep, list, forget, guard."""
    words(
        "p",
        t("Kept on this machine, with their yes, for a stated time; erased when asked."),
        "lead",
    )
    _Keeper(desk).draw()


class _Keeper:
    """The page's moving parts; the database is only touched off the event loop."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.door = desk, desk.server.door
        self.guardian = self.worked = self.sought = ""

    def draw(self) -> None:
        """This sitting, everybody, the copies, and these papers."""
        self._this_sitting()
        words("h2", t("In the records"))
        text_field(t("Find a word in labels, notes and wishes"), "", self._seek, kind="search")
        self.list = box("div", role="status")
        Care(self.desk.server, self._list).draw()
        self._papers()
        ui.timer(0.05, self._list, once=True)

    def _this_sitting(self) -> None:
        sitting = self.desk.sitting
        words("h2", t("This sitting"))
        choose_sitter(self.desk)
        if not sitting.consent_at:
            notice(t("Nothing is kept before the sitter has said yes; ask them first."), "trouble")
            link(t("To the talk"), address(self.desk, "talk"), "btn")
            return
        words("p", t("Until {day}: the head’s measurements and the set-up in hand.",
                     day=day_words(sitting.keep_until)))  # fmt: skip
        words(
            "p",
            t("The wishes and the plan as well.")
            if sitting.keep_wishes
            else t("Not the wishes, nor the plan that tells them."),
        )
        if sitting.sitter.consent_by == "guardian":
            text_field(t("The guardian’s name"), "", self._named)
        if self.desk.server.in_hand(sitting) is not None:
            answers = {"yes": t("yes"), "no": t("no"), "": t("not shot yet")}
            choices(t("Did the set-up in hand work?"), answers, "", self._judged)
        button(t("Keep this sitting"), self._keep, "main")
        self.kept = box("div", role="status")

    def _named(self, name: str) -> None:
        self.guardian = name.strip()

    def _judged(self, answer: str) -> None:
        self.worked = answer

    async def _seek(self, text: str) -> None:
        self.sought = text.strip()
        await self._list()

    async def _keep(self) -> None:
        try:
            label = self._label()
            await asyncio.to_thread(self._put_away, label, self._yes(), self._made())
            text, kind = t("Kept under {label}.", label=label), "note"
        except SitwellError as error:
            text, kind = str(error), "trouble"
        self.kept.clear()
        with self.kept:
            notice(text, kind)
        await self._list()

    def _put_away(self, label: str, yes: Yes, made: Made) -> None:
        self.door.record_yes(label, yes)
        self.door.keep(label, made)

    def _yes(self) -> Yes:
        sitting = self.desk.sitting
        guardian = self.guardian if sitting.sitter.consent_by == "guardian" else None
        return Yes(wishes=sitting.keep_wishes, until=sitting.keep_until, guardian=guardian)

    def _label(self) -> str:
        """Whose record it becomes; of several each needs a label of their own."""
        sitting = self.desk.sitting
        if len(sitting.sitters) > 1 and not sitting.sitter.label:
            raise ConsentError(
                tr("This sitter has no label of their own; write one on the talk page first.")
            )
        return sitting.sitter.label or sitting.title()

    def _made(self) -> Made:
        server, sitting = self.desk.server, self.desk.sitting
        known, chosen, setup = server.head(sitting), server.chosen(sitting), server.in_hand(sitting)
        return Made(
            wishes=brief.wishes_of(sitting.sitter),
            head=known[1] if known else None,
            plan=server.plan(sitting),
            used=(chosen.name, setup) if chosen and setup else None,
            worked=WORKED[self.worked],
        )

    async def _list(self) -> None:
        self.list.clear()
        try:
            found = await asyncio.to_thread(self.door.search, self.sought) if self.sought else ()
            lines = await asyncio.to_thread(self.door.sitters)
        except SealError as error:
            with self.list:
                self._locked(str(error))
            return
        except SitwellError as error:
            with self.list:
                notice(str(error), "trouble")
            return
        with self.list:
            for text in self.door.still_to_erase():
                notice(text, "trouble")
            if self.sought:
                self._found([f"{label or hit.field}: {hit.text}" for label, hit in found])
            if not lines:
                words("p", t("Nobody."), "hint")
                return
            with box("ul", "shelf"):
                for line in lines:
                    self._line(line)

    def _locked(self, trouble: str) -> None:
        """Ask for the passphrase, which stays in this server's memory until it ends."""

        async def typed(text: str) -> None:
            try:
                await asyncio.to_thread(unlock, self.desk.server, text)
            except SealError as error:
                self.list.clear()
                with self.list:
                    self._locked(str(error))
                return
            await self._list()

        notice(trouble, "trouble")
        text_field(t("The passphrase of the records"), "", typed, kind="password")

    def _found(self, hits: list[str]) -> None:
        with box("ul", "shelf"):
            for text in hits or [t("Nothing was found.")]:
                words("li", text)

    def _line(self, line: SitterLine) -> None:
        with box("li"):
            words("span", line.label, "file")
            words("span", tn("{count} sitting", "{count} sittings", line.sittings), "hint")
            if line.keep_until is not None:
                words("span", t("kept until {day}", day=day_words(line.keep_until)), "hint")
            if line.worked:
                words("span", t("worked: {setups}", setups=", ".join(line.worked)), "hint")
            if line.head:
                button(t("Sit again"), self._doer(self._sit_again, line.label), "quiet")
            if line.sittings:
                button(t("Export"), self._doer(self._export, line.label), "quiet")
            twice(t("Forget"), t("Erase everything of {label}", label=line.label),
                  self._doer(self._forget, line.label))  # fmt: skip

    def _doer(self, do: Callable[[str], Any], label: str) -> Callable[[], Any]:
        async def done() -> None:
            try:
                await do(label)
            except SitwellError as error:
                self._tell([str(error)])

        return done

    async def _sit_again(self, label: str) -> None:
        back = await asyncio.to_thread(self.door.returning, label)
        sitting = self.desk.server.begin_with(back)
        ui.navigate.to(f"/s/{sitting.id}/plan")

    async def _export(self, label: str) -> None:
        (path,) = await asyncio.to_thread(self.door.export, label, None)
        ui.download.file(path)

    async def _forget(self, label: str) -> None:
        mine = self.desk.sitting in self.desk.shelf.of_label(label)
        self._tell(await asyncio.to_thread(self.desk.server.forget_label, label))
        if mine:  # these papers went too
            with self.list:
                link(t("To the first page"), "/", "btn main")

    def _tell(self, lines: list[str] | tuple[str, ...]) -> None:
        self.list.clear()
        with self.list:
            for text in lines:
                words("p", text)
            button(t("To the list"), self._list)

    def _papers(self) -> None:
        words("h2", t("The papers on the table"))
        words("p", t("Frames, marks, plan and sheets of this sitting go on {day}, or now.",
                     day=day_words(self.desk.sitting.keep_until)))  # fmt: skip

        def erase() -> None:
            self.desk.server.forget(self.desk.sitting.id)
            ui.navigate.to("/")

        twice(t("Erase these papers"), t("Yes, erase frames, marks, plan and sheets"), erase)
