"""What a page sends for and shows when it has come: sheets, ratings, each with its bar and Stop."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from nicegui import ui

from sitwell.ui.web.jobs import Job, Workshop
from sitwell.ui.web.parts import Progress, box, link, notice, words
from sitwell.ui.web.wording import t

Show = Callable[[Any], Any]


class PageJobs:
    """The errands of one part of a page; ``shows`` tells what to draw of each one's result.

    A refreshed page finds those that still run. What was over before it was opened is not shown
    again: it may be of a set-up or an order that has changed since.
    """

    def __init__(self, workshop: Workshop, key: str, shows: Mapping[str, Show]) -> None:
        self.workshop, self.shows = workshop, shows
        self.keys = {name: f"{key}/{name}" for name in shows}
        self.waiting: dict[str, Job] = {
            name: job for name, at in self.keys.items() if (job := workshop.running(at))
        }
        self.progress = Progress(self._stop)
        self.status = box("div", role="status")
        self._look()
        ui.timer(0.2, self._look)

    def send(self, name: str, work: Callable[..., Any], *args: Any) -> None:
        """Begin an errand unless the same one runs."""

        def keep(made: Any) -> None:
            job.made = made

        job = self.waiting[name] = self.workshop.start(self.keys[name], keep, work, *args)
        self.status.clear()
        self._look()

    def say(self, trouble: str) -> None:
        """Tell why an errand can't be begun."""
        self.status.clear()
        with self.status:
            notice(trouble, "trouble")

    def _stop(self) -> None:
        for name in self.waiting:
            self.workshop.stop(self.keys[name])

    def _look(self) -> None:
        self.progress.follow(next((job for job in self.waiting.values() if not job.over), None))
        for name, job in list(self.waiting.items()):
            if job.over:
                del self.waiting[name]
                with self.status:
                    self._show(name, job)

    def _show(self, name: str, job: Job) -> None:
        if job.trouble:
            notice(job.trouble, "trouble")
        elif job.stopped:
            words("p", t("Stopped."))
        else:
            self.shows[name](job.made)


def offer(sitting_id: str, path: Path) -> None:
    """A link to a sheet that was drawn; one drawn anew is another to the browser's memory."""
    address = f"/drawn/{sitting_id}/{path.name}?of={path.stat().st_mtime_ns:x}"
    link(t("Open {name}", name=path.name), address, "btn").props["target"] = "_blank"
