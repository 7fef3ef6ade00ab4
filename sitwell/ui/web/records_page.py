"""Records: what may be kept of this sitting, who is in the records, and having it all forgotten."""

import asyncio
from collections.abc import Callable
from typing import Any

from nicegui import ui

from sitwell.base.errors import SitwellError
from sitwell.ui.web import brief
from sitwell.ui.web.frame import Desk, address
from sitwell.ui.web.keeping import SitterLine, ToKeep, forget_sitter, keep_sitting, list_sitters
from sitwell.ui.web.parts import box, button, link, notice, text_field, words
from sitwell.ui.web.wording import t, tn


def content(desk: Desk) -> None:
    """Keep, list, forget."""
    words("p", t("Kept on this machine, with leave, for a stated time; erased when asked."), "lead")
    _Keeper(desk).draw()


class _Keeper:
    """The page's moving parts; the database is only touched off the event loop."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.guardian = ""

    def draw(self) -> None:
        """This sitting, everybody, and these papers."""
        self._this_sitting()
        words("h2", t("In the records"))
        self.list = box("div", role="status")
        self._papers()
        ui.timer(0.05, self._list, once=True)

    def _this_sitting(self) -> None:
        sitting = self.desk.sitting
        words("h2", t("This sitting"))
        if not sitting.consent_at:
            notice(t("Nothing is kept before the sitter has said yes; ask them first."), "trouble")
            link(t("To the talk"), address(self.desk, "talk"), "btn")
            return
        words("p", t("Until {day}: the head’s measurements and the set-up in hand.",
                     day=f"{sitting.keep_until:%Y-%m-%d}"))  # fmt: skip
        words(
            "p",
            t("The wishes and the plan as well.")
            if sitting.keep_wishes
            else t("Not the wishes, nor the plan that tells them."),
        )
        if sitting.consent_by == "guardian":
            text_field(t("The guardian’s name"), "", self._named)
        button(t("Keep this sitting"), self._keep, "main")
        self.kept = box("div", role="status")

    def _named(self, name: str) -> None:
        self.guardian = name.strip()

    async def _keep(self) -> None:
        home = self.desk.house.records_home
        try:
            label = await asyncio.to_thread(keep_sitting, home, self._to_keep())
            text, kind = t("Kept under {label}.", label=label), "note"
        except SitwellError as error:
            text, kind = str(error), "trouble"
        self.kept.clear()
        with self.kept:
            notice(text, kind)
        await self._list()

    def _to_keep(self) -> ToKeep:
        house, sitting = self.desk.house, self.desk.sitting
        sitter, known, chosen = sitting.sitter, house.head(sitting), house.chosen(sitting)
        setup = house.in_hand(sitting)
        return ToKeep(
            label=sitter.label or sitting.title(),
            child=sitting.consent_by == "guardian",
            by=sitting.consent_by,
            guardian=self.guardian,
            keep_until=sitting.keep_until,
            wishes=brief.wishes_of(sitter) if sitting.keep_wishes else None,
            head=known[1] if known else None,
            plan=house.plan(sitting),
            used=(chosen.name, setup) if chosen and setup else None,
        )

    async def _list(self) -> None:
        try:
            lines = await asyncio.to_thread(list_sitters, self.desk.house.records_home)
        except SitwellError as error:
            self.list.clear()
            with self.list:
                notice(str(error), "trouble")
            return
        self.list.clear()
        with self.list:
            if not lines:
                words("p", t("Nobody."), "hint")
                return
            with box("ul", "shelf"):
                for line in lines:
                    self._line(line)

    def _line(self, line: SitterLine) -> None:
        with box("li"):
            words("span", line.label, "file")
            words("span", tn("{count} sitting", "{count} sittings", line.sittings), "hint")
            if line.keep_until is not None:
                words("span", t("kept until {day}", day=f"{line.keep_until:%Y-%m-%d}"), "hint")
            _twice(t("Forget"), t("Erase everything of {label}", label=line.label),
                   self._forgetter(line.label))  # fmt: skip

    def _forgetter(self, label: str) -> Callable[[], Any]:
        async def forget() -> None:
            report = await asyncio.to_thread(forget_sitter, self.desk.house.records_home, label)
            self.list.clear()
            with self.list:
                for text in report:
                    words("p", text)
                button(t("To the list"), self._list)

        return forget

    def _papers(self) -> None:
        words("h2", t("The papers on the table"))
        words("p", t("Frames, marks, plan and sheets of this sitting go on {day}, or now.",
                     day=f"{self.desk.sitting.keep_until:%Y-%m-%d}"))  # fmt: skip

        def erase() -> None:
            self.desk.house.forget(self.desk.sitting.id)
            ui.navigate.to("/")

        _twice(t("Erase these papers"), t("Yes, erase frames, marks, plan and sheets"), erase)


def _twice(text: str, sure: str, do: Callable[[], Any]) -> None:
    """A button that asks once more, in its own place."""
    with box("span", "twice"):
        first = button(text, lambda: (first.set_visibility(False), second.set_visibility(True)),
                       "quiet")  # fmt: skip
        second = button(sure, do, "main")
        second.set_visibility(False)
