"""How wishes and guards fare while the hand moves: rows that change, never a list redrawn."""

from sitwell.ui.web import names
from sitwell.ui.web.parts import attributed, box, words
from sitwell.ui.web.planning import Judged
from sitwell.ui.web.wording import t


class ChangingRows:
    """What the wishes gain, and what is not held; numbers and every guard are behind a fold."""

    def __init__(self) -> None:
        with box("div", "tell"):
            words("h3", t("What the wishes gain"))
            self._gains = box("div")
        with box("div", "tell"):
            words("h3", t("What must hold"))
            self._sum = attributed(words("p", "", "sum"), role="status")
            self._lost = box("ul", "lost-list")
            with box("details", "fold"):
                words("summary", t("each, in numbers"))
                self._guards = box("div")
        self._wish_rows: dict[str, _Row] = {}
        self._gain_rows: list[_Row] = []
        self._guard_rows: dict[str, _Row] = {}

    def show(self, judged: Judged) -> None:
        """Tell how a set-up fares."""
        if not self._guard_rows:
            self._lay_out(judged)
        for wish, gain in names.best_gains(judged.gains).items():
            self._wish_rows[wish].say(names.notice_words(gain), "", lost=names.is_against(gain))
        for row, gain in zip(self._gain_rows, judged.gains, strict=True):
            was = names.reading_words(gain.measure, gain.was)
            now = names.reading_words(gain.measure, gain.becomes)
            change = t("{was} to {now}", was=was, now=now)
            row.say(names.notice_words(gain), change, lost=names.is_against(gain))
        self._show_guards(judged)

    def _lay_out(self, judged: Judged) -> None:
        with self._gains:
            if not judged.gains:
                words("p", t("No wish was made; what must hold is still watched."), "hint")
            for wish in names.best_gains(judged.gains):
                self._wish_rows[wish] = _Row(names.wish_words(wish))
            if judged.gains:
                with box("details", "fold"):
                    words("summary", t("in numbers"))
                    self._lay_out_measures(judged)
        with self._guards:
            for guard in judged.guards:
                self._guard_rows[guard.name] = _Row(names.guard_words(guard))

    def _lay_out_measures(self, judged: Judged) -> None:
        wish = ""
        for gain in judged.gains:
            if gain.wish != wish:
                wish = gain.wish
                words("h4", names.wish_words(wish))
            self._gain_rows.append(_Row(names.measure_words(gain.measure)))

    def _show_guards(self, judged: Judged) -> None:
        known = {guard.name: guard for guard in judged.guards}
        lost = [guard for guard in judged.guards if not guard.holds]
        count = len(judged.guards)
        text = (
            t("{lost} of {count} not held", lost=len(lost), count=count)
            if lost
            else t("all {count} hold", count=count)
        )
        if text != self._sum.text:
            self._sum.set_text(text)
        self._lost.clear()
        with self._lost:
            for guard in lost:
                words("li", names.guard_words(guard), "lost")
        for name, row in self._guard_rows.items():
            if (now := known.get(name)) is None:
                row.say("", t("can’t be told here"))
            else:
                state = t("holds") if now.holds else t("not held")
                row.say(state, names.guard_detail(now), lost=not now.holds)


class _Row:
    """One line: a name, how it fares, and the values behind it."""

    def __init__(self, name: str) -> None:
        with box("div", "row") as self._element:
            words("span", name, "row-name")
            self._state = words("span", "", "row-state")
            self._detail = words("span", "", "row-detail hint")

    def say(self, state: str, detail: str, *, lost: bool = False) -> None:
        """Tell how it is now; what has not changed is not sent again."""
        if state != self._state.text:
            self._state.set_text(state)
            self._element.classes(add="lost" if lost else "", remove="" if lost else "lost")
        if detail != self._detail.text:
            self._detail.set_text(detail)
