"""Plan: three set-ups side by side, what each gives and costs, one of them opened."""

from collections.abc import Callable, Mapping, Sequence

from nicegui import ui

from sitwell.search.group import GroupPlan, GroupSetup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet.first_line import first_line
from sitwell.ui.web import brief, group_sitting, names
from sitwell.ui.web.frame import Desk, address, choose_sitter, say_no_key
from sitwell.ui.web.group_page import group_part, labels_of, picture_address
from sitwell.ui.web.kit_page import KIT_NAMES, ROOM_NAMES
from sitwell.ui.web.neighbours import Others
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.parts import Pair, Progress, attributed, box, button, link, notice, words
from sitwell.ui.web.setup_in_hand import SetupInHand
from sitwell.ui.web.wording import t

IN_A_ROW = 3  # cards
Search = Callable[[Mapping[str, float | str]], None]


def content(desk: Desk) -> None:
    """Search, compare, open one."""
    words("p", t("Three set-ups of different strength. Open one and take it in hand."), "lead")
    several = len(desk.sitting.sitters) > 1
    known = several or desk.sitting.sitter.frames or desk.server.head(desk.sitting)
    if not known or not desk.sitting.consent_at:
        choose_sitter(desk)
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
        self.hand: SetupInHand | None = None
        self.pairs: dict[str, Pair] = {}
        self.group_pairs: dict[str, Pair] = {}
        self.shown: object = None
        self.just_opened = False

    def draw(self) -> None:
        server, sitting = self.desk.server, self.desk.sitting
        server.begin_looking(sitting)
        self.progress = Progress(self._stop)
        self.first = attributed(words("p", "", "pose"), role="status")
        self.first.set_visibility(False)
        self.trouble = notice("", "trouble")
        self.trouble.set_visibility(False)
        self.whole()
        ui.timer(0.2, self._look)

    @property
    def several(self) -> bool:
        return len(self.desk.sitting.sitters) > 1

    def _jobs(self) -> list[str]:
        """The names of the long jobs that this page waits for."""
        server, sitting = self.desk.server, self.desk.sitting
        keys = [server.key(sitting, "plan"), group_sitting.job_key(sitting)]
        views = [turned_to(sitting, i) for i in range(len(sitting.sitters))]
        return [*(server.key(view, "read") for view in views), *keys]

    def _stop(self) -> None:
        for key in self._jobs():
            self.desk.server.workshop.stop(key)

    def _search(self, held: Mapping[str, float | str]) -> None:
        if self.several:
            group_sitting.drop_group(self.desk.server, self.desk.sitting)
        self.desk.server.begin_plan(self.desk.sitting, held)

    def _search_all(self, held: Mapping[str, float | str] | None = None) -> None:
        """Search for everybody; with ``held``, what is ticked stays for each and for all."""
        server, sitting = self.desk.server, self.desk.sitting
        own, shared = group_sitting.held_in(server, sitting) if held is not None else ({}, {})
        group_sitting.begin_group(server, sitting, labels_of(self.desk), own, shared)

    def _state(self) -> object:
        server, sitting = self.desk.server, self.desk.sitting
        plan = server.plan(sitting)
        # Without a plan nothing shows the model, and a button drawn anew loses a touch under way.
        group = group_sitting.group_plan(server, sitting)
        others = (len(group_sitting.missing(server, sitting)), id(group)) if self.several else None
        known, model = server.head(sitting), server.model(sitting) if plan else None
        # by identity: a head that was read again has other numbers, which are not compared at once
        return id(plan), id(known[0]) if known else None, id(model), others

    def _look(self) -> None:
        """Show how far the long work is, and draw the page anew when something has come."""
        server, sitting = self.desk.server, self.desk.sitting
        jobs = [job for key in self._jobs() if (job := server.workshop.jobs.get(key))]
        self.progress.follow(next((job for job in jobs if not job.over), None))
        self._show_first([job.found for job in jobs if not job.over and job.found is not None])
        troubles = [job.trouble for job in jobs if job.trouble]
        self.trouble.set_text(troubles[-1] if troubles else "")
        self.trouble.set_visibility(bool(troubles))
        if server.plan(sitting) is not None and server.head(sitting) is not None:
            server.begin_looking(sitting)  # again, should setting the head up have failed
        if self._state() != self.drawn:
            self.whole.refresh()
        elif self._pictured() != self.shown:
            self._picture_again()

    def _show_first(self, found: Sequence[GroupSetup]) -> None:
        """The strong set-up in a line, from when it is found until the plan is there."""
        self.first.set_visibility(bool(found))
        if found:
            at = self.desk.sitting.at if len(found[-1].places) > 1 else 0
            line = first_line(found[-1].own(at), {}, {}, discreet=True)
            self.first.set_text(t("The strong set-up is found: {line}", line=line))

    def _pictured(self) -> object:
        """Which of the sitters are shown as their frames have them."""
        server, sitting = self.desk.server, self.desk.sitting
        models = [server.model(turned_to(sitting, i)) for i in range(len(sitting.sitters))]
        return [model is not None and model.has_likeness for model in models]

    def _picture_again(self) -> None:
        """A sitter's likeness has come: other pictures in the same places."""
        self.shown = self._pictured()
        for pairs, address_of in (
            (self.pairs, _picture),
            (self.group_pairs, picture_address),
        ):
            for name, pair in pairs.items():
                pair.put(address_of(self.desk, "baseline"), address_of(self.desk, name))
        if self.hand is not None:
            self.hand.ask()

    def _whole(self) -> None:
        self.drawn, self.hand = self._state(), None
        server, sitting = self.desk.server, self.desk.sitting
        plan, model = server.plan(sitting), server.model(sitting)
        group = group_sitting.group_plan(server, sitting)
        self.pairs, self.shown = {}, self._pictured()
        if self.several:
            self.group_pairs = group_part(self.desk, group, self._search_all, self._open_all)
            words("h2", t("One by one"))
            choose_sitter(self.desk)
        if plan is None:
            self._search_button(self._search_words())
            _brief_words(self.desk)
            return
        if group is None:
            self._alone(plan)
        chosen = next((p for p in plan.setups if p.name == sitting.sitter.chosen), None)
        if not brief.has_key(sitting):
            say_no_key(self.desk)
        elif model is None:
            notice(t("The head is being prepared; one moment."))
        elif chosen is not None:
            search = self._search if group is None else self._search_all
            others = self._others(group, chosen) if group else None
            self.hand = SetupInHand(self.desk, plan, chosen, model, search, others)
            self.hand.draw()
            if self.just_opened:
                self.just_opened = False
                self.hand.show()

    def _alone(self, plan: Plan) -> None:
        """The plan of the sitter in hand alone."""
        if self.desk.server.plan_is_stale(self.desk.sitting):
            notice(t("Wishes, kit, room or frames have changed since this plan was made."))
            self._search_button(t("Search again") if not self.several else self._search_words())
        with box("div", "cards"):
            self.pairs = {p.name: _card(self.desk, p, self._open) for p in plan.setups}
            if len(plan.setups) % IN_A_ROW:
                _collisions(plan)  # where a card would stand
        if len(plan.setups) % IN_A_ROW == 0:
            _collisions(plan)

    def _others(self, group: GroupPlan, chosen: PlannedSetup) -> Others:
        """Those who stand beside the sitter in hand."""
        return Others(self.desk, labels_of(self.desk), group, chosen.name)

    def _search_words(self) -> str:
        if not self.several:
            return t("Search the set-ups")
        return t("Search for {who} alone", who=labels_of(self.desk)[self.desk.sitting.at])

    def _open_all(self, name: str) -> None:
        group_sitting.open_group(self.desk.server, self.desk.sitting, name)
        self.just_opened = True
        self.desk.changed()
        self.whole.refresh()

    def _search_button(self, text: str) -> None:
        made = button(text, lambda: self._search({}), "main")
        made.props["disabled"] = self.desk.server.head(self.desk.sitting) is None

    def _open(self, name: str) -> None:
        self.desk.sitting.sitter.chosen = name
        self.just_opened = True
        self.desk.changed()
        self.whole.refresh()


def _card(desk: Desk, planned: PlannedSetup, on_open: Callable[[str], None]) -> Pair:
    opened = planned.name == desk.sitting.sitter.chosen
    with box("section", "card opened" if opened else "card"):
        ready = desk.server.model(desk.sitting) is not None
        with box("div", "shown-as"):
            pair = Pair(
                _picture(desk, "baseline") if ready else "",
                _picture(desk, planned.name) if ready else "",
                t("{name}, as the camera will see it", name=names.setup_name(planned.name)),
                planned.setup.aspect,
            )
        with box("div", "told-as"):
            words("h2", names.setup_name(planned.name))
            words("p", t(names.GIST.get(planned.name, "")), "gist")
            words("p", names.pose_words(planned.setup), "pose")
            light = names.light_words(planned.measures, planned.setup)
            words("p", ", ".join(filter(None, (names.camera_words(planned.setup), light))), "hint")
            _gains(planned)
            made = button(
                t("Open below") if opened else t("Open"),
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
                words("span", t("What must hold"))
                words("span", t("holds"), "soft")
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
    if open_ways := brief.undecided(sitting.sitter):
        asked = ", ".join(names.wish_words(feature) for feature in open_ways)
        notice(t("Not told yet which way, and left out: {wishes}.", wishes=asked), "trouble")
        link(t("To the talk"), address(desk, "talk"), "btn")
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
    return f"/seen/{sitting.id}/{sitting.at}/{name}?of={desk.server.plan_mark(sitting)}"
