"""Sort: the best of each burst put forward with its reason; a person's choice comes first."""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nicegui import ui

from sitwell.sort.rank import Ranked, RankedBurst
from sitwell.ui.web.compare import Comparison
from sitwell.ui.web.frame import Desk, lacks_leave
from sitwell.ui.web.page_jobs import PageJobs, Show, offer
from sitwell.ui.web.parts import (
    FOLDERS,
    Progress,
    attributed,
    box,
    button,
    last_folders,
    notice,
    text_field,
    words,
)
from sitwell.ui.web.sorting import SortWork, choose_frame, draw_proof, thumb_name, write_ratings
from sitwell.ui.web.wording import preferences, t, tn

SHOWN_BURSTS = 60


def content(desk: Desk) -> None:
    """The folder, the bursts, and the hand-over."""
    words("p", t("Nothing is moved, deleted or rewritten; a choice of yours beats ours."), "lead")
    if lacks_leave(desk, everybody=True):
        return
    _Sorter(desk).draw()


class _Sorter:
    """The page's moving parts."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.bursts = ui.refreshable(self._bursts)
        self.drawn: object = None

    @property
    def work(self) -> SortWork:
        return self.desk.server.sort_work(self.desk.sitting)

    def draw(self) -> None:
        """The folder and the long job, then what it found."""
        server, sitting = self.desk.server, self.desk.sitting

        def folder(value: str) -> None:
            sitting.folder = value.strip()
            self.desk.changed()

        text_field(t("Folder of the sitting"), sitting.folder, folder,
                   hint=t("A folder on this computer."), list=FOLDERS)  # fmt: skip
        last_folders(self.desk.shelf.folders_used())
        with box("div", "onward"):
            button(t("Sort the folder"), lambda: server.begin_sort(sitting), "main")
        self.progress = Progress(lambda: server.workshop.stop(server.key(sitting, "sort")))
        self.trouble = notice("", "trouble")
        self.trouble.set_visibility(False)
        self.bursts()
        ui.timer(0.2, self._look)

    def _look(self) -> None:
        server, sitting = self.desk.server, self.desk.sitting
        job = server.job(sitting, "sort")
        self.progress.follow(job)
        self.trouble.set_text(job.trouble if job else "")
        self.trouble.set_visibility(bool(job and job.trouble))
        if id(server.sorted(sitting)) != self.drawn:
            self.bursts.refresh()

    def _bursts(self) -> None:
        found = self.desk.server.sorted(self.desk.sitting)
        self.drawn = id(found)
        if found is None:
            return
        bursts = found.bursts
        frames = sum(len(burst.frames) for burst in bursts)
        counted = (
            tn("{count} burst", "{count} bursts", len(bursts)),
            tn("{count} frame", "{count} frames", frames),
        )
        words("p", ", ".join(counted))
        for problem in found.unread:
            notice(problem)
        with box("ol", "bursts"):
            for burst in bursts[:SHOWN_BURSTS]:
                self._burst(burst)
        self._hand_over()

    def _burst(self, burst: RankedBurst) -> None:
        best = burst.best or burst.frames[0]
        thumb = f"/drawn/{self.desk.sitting.id}/{thumb_name(best.file)}"
        with box("li", "burst"):
            attributed(ui.element("img"), src=thumb, alt=best.file, loading="lazy")
            with box("div"):
                words("h2", best.file, "sub")
                if burst.best is None:
                    words("p", t("None of this burst was put forward; this one came nearest."))
                words("p", best.reason)
                if len(burst.frames) > 1:
                    with box("details"):
                        words(
                            "summary",
                            tn(
                                "{count} frame in this burst",
                                "{count} frames in this burst",
                                len(burst.frames),
                            ),
                        )
                        with box("ul", "gains"):
                            for frame in burst.frames:
                                self._frame(frame)
            if len(burst.frames) > 1:
                Comparison(self.desk, self.work, burst, self._put_forward)

    def _frame(self, frame: Ranked) -> None:
        with box("li"):
            words("span", f"{frame.place}. {frame.file}: {t(frame.reason)}")
            if not frame.put_forward:
                button(t("put forward"), self._chooser(frame.file), "small")

    def _chooser(self, file: str) -> Callable[[], Any]:
        async def choose() -> None:
            await self._put_forward(file)

        return choose

    async def _put_forward(self, file: str) -> None:
        found = await asyncio.to_thread(choose_frame, self.work, file)
        self.desk.server.keep_sorted(self.desk.sitting, found)
        self.bursts.refresh()

    def _hand_over(self) -> None:
        words("h2", t("Hand over"))
        words("p", t("Ratings go into XMP files beside the frames; what is there already stays."),
              "hint")  # fmt: skip
        with box("div", "sheets"):
            button(t("Write the ratings"), self._rate)
            button(t("Draw the proof sheet"), self._proof)
        server, sitting = self.desk.server, self.desk.sitting
        shows: dict[str, Show] = {"rate": self._rated, "proof": self._offer}
        self.page_jobs = PageJobs(server.workshop, server.key(sitting, "hand-over"), shows)

    def _rate(self) -> None:
        self.page_jobs.send("rate", write_ratings, self.work, preferences().language)

    def _rated(self, count: int) -> None:
        notice(tn("{count} sidecar written", "{count} sidecars written", count))

    def _proof(self) -> None:
        sitting = self.desk.sitting
        target = self.desk.shelf.place(sitting.id) / "drawn" / "proof-sheet.pdf"
        language = preferences().language
        self.page_jobs.send("proof", draw_proof, self.work, target, sitting.title(), language)

    def _offer(self, path: Path) -> None:
        offer(self.desk.sitting.id, path)
