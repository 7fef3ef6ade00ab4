"""Shoot: frames are checked as they land, and one thing is said at a time."""

from pathlib import Path
from urllib.parse import quote

from nicegui import ui

from sitwell.base.errors import SitwellError
from sitwell.shoot.check import FrameReport
from sitwell.shoot.live import Checked
from sitwell.ui.web import names
from sitwell.ui.web.folder_watch import FolderWatch
from sitwell.ui.web.frame import Desk, in_hand_picture, lacks_leave
from sitwell.ui.web.parts import (
    FOLDERS,
    attributed,
    box,
    button,
    last_folders,
    notice,
    pick,
    target_picture,
    text_field,
    words,
)
from sitwell.ui.web.phone import phone_part
from sitwell.ui.web.practice import PracticeCamera, focal_names
from sitwell.ui.web.wording import preferences, t

SHOWN = 12
# What a nudge may ask of the sitter; the rest is about camera, light and focus.
THEIRS = ("turn_deg", "chin_deg", "tilt_deg", "chin_forward_mm")


def content(desk: Desk) -> None:
    """The folder, the one thing to say, and each frame's needs; to the sitter, kind words only."""
    if preferences().discreet:
        _KindWords(desk).draw()
        return
    words(
        "p", t("Frames are looked at as they land. Nothing is written, moved or deleted."), "lead"
    )
    if lacks_leave(desk, everybody=True):
        return
    _Shooter(desk).draw()


class _KindWords:
    """What the sitter may read while frames land: what is asked of them, and nothing of faults."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def draw(self) -> None:
        """One sentence, large, as the latest frame has it."""
        said = t("To say now")
        with box("section", "speaker discreet", aria_label=said), box("div", aria_live="polite"):
            self.sentence = words("p", "", "spoken")
        self._look()
        ui.timer(0.3, self._look)

    def _look(self) -> None:
        folder_watch = self.desk.server.folder_watch(self.desk.sitting)
        seen = folder_watch.seen if folder_watch else ()
        said = kind_words(seen[0] if seen else None)
        if said != self.sentence.text:
            self.sentence.set_text(said)


def kind_words(latest: Checked | None) -> str:
    """What a frame asks of the sitter; what is the photographer's to mend is not told."""
    if latest is None or latest.problem:
        return t("One moment, please.")
    if latest.nudge is None:
        return t("Lovely. Hold all of this.")
    theirs = latest.nudge.about in THEIRS
    return t(latest.nudge.sentence) if theirs else t("One moment, please.")


class _Shooter:
    """The page's moving parts."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.told = ui.refreshable(self._told)
        self.drawn: object = None

    def draw(self) -> None:
        """The folder and its buttons; below them what was seen."""
        server, sitting = self.desk.server, self.desk.sitting
        planned = server.chosen(sitting)
        if planned is None:
            notice(t("There is no plan, so only eyes and focus are looked at."))
        else:
            words("p", t("Held against: {name}", name=names.setup_name(planned.name)))

        def folder(value: str) -> None:
            sitting.folder = value.strip()
            self.desk.changed()

        hint = t("The folder on this computer in which your camera or its program puts them.")
        text_field(t("Where frames land"), sitting.folder, folder, hint=hint, list=FOLDERS)
        last_folders(self.desk.shelf.folders_used())
        with box("div", "onward"):
            button(t("Watch the folder"), self._begin, "main")
            button(t("Stop"), self._stop)
        self.told()
        ui.timer(0.3, self._look)
        if planned is not None:
            self._practise()

    def _practise(self) -> None:
        """A live camera to practise before, where there is a set-up."""
        sitting = self.desk.sitting
        words("h2", t("Practise first, without shooting"))
        words("p", t("A camera on this computer shows how the pose comes along; nothing is kept."),
              "hint")  # fmt: skip
        PracticeCamera(f"/practice/{sitting.id}/{sitting.at}")
        phone_part(self.desk, "practice")
        practices = self.desk.server.practices

        def focal(value: str) -> None:
            practices.focal_35_mm = float(value) if value else None

        chosen = practices.focal_35_mm
        pick(t("The camera’s focal length, 35 mm equivalent"), focal_names(),
             f"{chosen:g}" if chosen else "", focal)  # fmt: skip
        words("p", t("Once chosen, the sitter’s distance is shown; if a tape measure disagrees, "
                     "choose another."), "hint")  # fmt: skip

    def _begin(self) -> None:
        try:
            self.desk.server.watch(self.desk.sitting, Path(self.desk.sitting.folder).expanduser())
        except SitwellError as error:
            self.desk.server.watch_trouble[self.desk.sitting.id] = str(error)
        self.told.refresh()

    def _stop(self) -> None:
        if (folder_watch := self.desk.server.folder_watch(self.desk.sitting)) is not None:
            folder_watch.stop()

    def _look(self) -> None:
        folder_watch = self.desk.server.folder_watch(self.desk.sitting)
        now = (
            (folder_watch.count, folder_watch.over, folder_watch.trouble) if folder_watch else None
        )
        if now != self.drawn:
            self.drawn = now
            self.told.refresh()

    def _told(self) -> None:
        folder_watch = self.desk.server.folder_watch(self.desk.sitting)
        trouble = self.desk.server.watch_trouble.get(self.desk.sitting.id, "")
        if trouble or (folder_watch and folder_watch.trouble):
            notice(trouble or (folder_watch.trouble if folder_watch else ""), "trouble")
        if folder_watch is None:
            return
        with box("div", "said-and-meant"):
            setup = self.desk.server.in_hand(self.desk.sitting)
            if setup is not None:
                self.desk.server.begin_looking(self.desk.sitting)
                target_picture(in_hand_picture(self.desk), setup.aspect)
            self._speaker(folder_watch)
        if folder_watch.seen:
            with box("ul", "shelf landed"):
                for checked in list(folder_watch.seen)[:SHOWN]:
                    _row(self.desk, checked)

    def _speaker(self, folder_watch: FolderWatch) -> None:
        with box("section", "speaker", aria_label=t("To say now")):
            words("p", t("stopped") if folder_watch.over else t("watching {folder}",
                  folder=folder_watch.folder.name), "part")  # fmt: skip
            with box("div", "", aria_live="polite"):
                words("p", _say(folder_watch.seen[0] if folder_watch.seen else None), "spoken")


def _say(latest: Checked | None) -> str:
    if latest is None:
        return t("No frame yet.")
    if latest.problem:
        return t(latest.problem)
    return t(latest.nudge.sentence) if latest.nudge else t("Lovely. Hold all of this.")


def _row(desk: Desk, checked: Checked) -> None:
    with box("li"):
        with box("span", "file"):
            if not checked.problem:
                source = f"/landed/{desk.sitting.id}/{quote(checked.file, safe='')}"
                attributed(ui.element("img"), src=source, alt="", loading="lazy")
            words("span", checked.file)
        if checked.problem:
            words("span", checked.problem, "lost")
        for report in checked.reports:
            found = found_words(report)
            words("span", found or t("nothing to fix"), "" if found else "soft")


def found_words(report: FrameReport) -> str:
    """What there is to fix in a frame, sentence after sentence; "" where nothing is."""
    return " ".join(t(finding.sentence) for finding in report.findings)
