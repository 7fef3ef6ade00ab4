"""Plan: three set-ups side by side, what each gives and costs, one of them opened."""

from collections.abc import Callable, Mapping

from nicegui import ui

from sitwell.search.plan import Plan, PlannedSetup
from sitwell.ui.web import brief, names
from sitwell.ui.web.frame import Desk, address, choose_sitter
from sitwell.ui.web.hand import Hand
from sitwell.ui.web.kit_page import KIT_NAMES, ROOM_NAMES
from sitwell.ui.web.parts import Pair, Progress, box, button, link, notice, words
from sitwell.ui.web.wording import number, t

Search = Callable[[Mapping[str, float | str]], None]


def content(desk: Desk) -> None:
    """Search, compare, open one."""
    words("p", t("Three set-ups of different strength. Open one and take it in hand."), "lead")
    choose_sitter(desk)
    known = desk.sitting.sitter.frames or desk.house.head(desk.sitting)
    if not known or not desk.sitting.consent_at:
        notice(t("There is no head to plan for yet; bring test frames first."), "trouble")
        link(t("To the test frames"), address(desk, "read"), "btn main")
        return
    _Planner(desk).draw()


class _Planner:
    """The page's moving parts."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.whole = ui.refreshable(self._whole)
        self.drawn: object = None
        self.hand: Hand | None = None
        self.pairs: dict[str, Pair] = {}
        self.worn = False

    def draw(self) -> None:
        house, sitting = self.desk.house, self.desk.sitting
        house.begin_looking(sitting)
        self.progress = Progress(self._stop)
        self.trouble = notice("", "trouble")
        self.trouble.set_visibility(False)
        self.whole()
        ui.timer(0.2, self._look)

    def _stop(self) -> None:
        for job in ("plan", "read"):
            self.desk.house.workshop.stop(self.desk.house.key(self.desk.sitting, job))

    def _search(self, held: Mapping[str, float | str]) -> None:
        self.desk.house.begin_plan(self.desk.sitting, held)

    def _state(self) -> object:
        house, sitting = self.desk.house, self.desk.sitting
        plan = house.plan(sitting)
        # Without a plan nothing shows the model, and a button drawn anew loses a touch under way.
        return id(plan), house.head(sitting), house.model(sitting) if plan else None

    def _look(self) -> None:
        """Show how far the long work is, and draw the page anew when something has come."""
        house, sitting = self.desk.house, self.desk.sitting
        jobs = [job for name in ("read", "plan") if (job := house.job(sitting, name))]
        running = next((job for job in jobs if not job.over), None)
        if running is None:
            self.progress.hide()
        else:
            doing = t(running.doing) if running.doing else t("waiting for its turn")
            self.progress.show(running.share, f"{doing}, {number(running.seconds, 0)} s")
        troubles = [job.trouble for job in jobs if job.trouble]
        self.trouble.set_text(troubles[-1] if troubles else "")
        self.trouble.set_visibility(bool(troubles))
        if house.plan(sitting) is not None and house.head(sitting) is not None:
            house.begin_looking(sitting)  # again, should setting the head up have failed
        if self._state() != self.drawn:
            self.whole.refresh()
        elif (model := house.model(sitting)) is not None and model.dressed != self.worn:
            self._dress(model.dressed)

    def _dress(self, worn: bool) -> None:
        """The sitter's own skin has come: other pictures in the same places."""
        self.worn = worn
        for name, pair in self.pairs.items():
            pair.put(_picture(self.desk, "baseline"), _picture(self.desk, name))
        if self.hand is not None:
            self.hand.ask()

    def _whole(self) -> None:
        self.drawn, self.hand = self._state(), None
        house, sitting = self.desk.house, self.desk.sitting
        plan, model = house.plan(sitting), house.model(sitting)
        if plan is None:
            self._search_button(t("Search the set-ups"))
            _brief_words(self.desk)
            return
        if house.plan_is_stale(sitting):
            notice(t("Wishes, kit, room or frames have changed since this plan was made."))
            self._search_button(t("Search again"))
        with box("div", "cards"):
            self.worn = model is not None and model.dressed
            self.pairs = {p.name: _card(self.desk, p, self._open) for p in plan.setups}
        _collisions(plan)
        chosen = next((p for p in plan.setups if p.name == sitting.sitter.chosen), None)
        if model is None:
            notice(t("The head is being set up to be looked at; a moment."))
        elif chosen is not None:
            self.hand = Hand(self.desk, plan, chosen, model, self._search)
            self.hand.draw()

    def _search_button(self, text: str) -> None:
        made = button(text, lambda: self._search({}), "main")
        made.props["disabled"] = self.desk.house.head(self.desk.sitting) is None

    def _open(self, name: str) -> None:
        self.desk.sitting.sitter.chosen = name
        self.desk.changed()
        self.whole.refresh()


def _card(desk: Desk, planned: PlannedSetup, on_open: Callable[[str], None]) -> Pair:
    opened = planned.name == desk.sitting.sitter.chosen
    with box("section", "card opened" if opened else "card"):
        words("h2", names.setup_name(planned.name))
        words("p", t(names.GIST.get(planned.name, "")), "gist")
        ready = desk.house.model(desk.sitting) is not None
        pair = Pair(
            _picture(desk, "baseline") if ready else "",
            _picture(desk, planned.name) if ready else "",
            t("{name}, as the camera will see it", name=names.setup_name(planned.name)),
            planned.setup.aspect,
        )
        words("p", names.pose_words(planned.setup), "pose")
        words("p", names.camera_words(planned.setup), "hint")
        _gains(planned)
        made = button(
            t("Opened below") if opened else t("Open"),
            lambda: on_open(planned.name),
            "main" if opened else "",
        )
        made.props["aria-pressed"] = "true" if opened else "false"
    return pair


def _gains(planned: PlannedSetup) -> None:
    """What each wish gets, then what is not held: costs stand beside gains."""
    with box("ul", "gains"):
        for wish, gain in names.best_gains(planned.gains).items():
            with box("li"):
                words("span", names.wish_words(wish))
                words("span", names.notice_words(gain), "soft")
        lost = [guard for guard in planned.guards if not guard.holds]
        for guard in lost:
            with box("li", "lost"):
                words("span", names.guard_words(guard))
                words("span", t("not held"))
        if not lost:
            with box("li"):
                words("span", t("Guards"))
                words("span", t("all hold"), "soft")
    for note in planned.notes:
        words("p", note, "hint")


def _collisions(plan: Plan) -> None:
    if not plan.conflicts and not plan.notes:
        return
    with box("section", "collisions"):
        words("h2", t("Where wishes pull apart"))
        with box("ul"):
            for conflict in plan.conflicts:
                words("li", conflict.sentence)
            for note in plan.notes:
                words("li", note)


def _brief_words(desk: Desk) -> None:
    """What the search will go by, so that nobody waits for the wrong plan."""
    sitting = desk.sitting
    wishes = ", ".join(names.wish_words(w.feature) for w in brief.wishes_of(sitting.sitter))
    rows = {
        t("Wishes"): wishes or t("none; a calm, usual portrait"),
        t("Kit"): t(KIT_NAMES.get(sitting.kit, sitting.kit)),
        t("Room"): t(ROOM_NAMES.get(sitting.room, sitting.room)),
    }
    with box("dl", "figures brief"):
        for name, value in rows.items():
            with box("div"):
                words("dt", name)
                words("dd", value)


def _picture(desk: Desk, name: str) -> str:
    sitting = desk.sitting
    return f"/seen/{sitting.id}/{sitting.at}/{name}?of={desk.house.plan_mark(sitting)}"
