"""The shared frame: masthead with the steps of the work, content, title block."""

import copy
import dataclasses
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

from fastapi import Request
from nicegui import app, context, ui
from nicegui.elements.mixins.text_element import TextElement

from sitwell.store.days import day_words
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.paper import Sitting
from sitwell.ui.web.parts import attributed, box, choices, link, notice, words
from sitwell.ui.web.security import ONE_PAGE
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.wording import (
    LANGUAGES,
    Preferences,
    mark,
    preferences,
    preferences_from,
    speak,
    t,
)

STEPS = {
    "talk": mark("Talk"),
    "read": mark("Read"),
    "plan": mark("Plan"),
    "set": mark("Set"),
    "shoot": mark("Shoot"),
    "sort": mark("Sort"),
}
BESIDES = {"kit": mark("Kit and room"), "records": mark("Records")}
# Pages that belong to a step, by its name.
UNDER = {"atlas": "plan", "practice": "shoot"}
TITLES = {**STEPS, **BESIDES, "atlas": mark("Atlas"), "practice": mark("Practice")}
# Before the first paint, so that a dark studio is never lit up by a white page.
TONE_SCRIPT = """<script>
(() => {
  const cookie = (name) => (document.cookie.match("(?:^|; )" + name + "=([^;]*)") || [])[1];
  const show = (tone) => { document.documentElement.dataset.tone = tone || "system"; };
  window.sitwellSet = (name, value) => {
    document.cookie = name + "=" + value + "; path=/; max-age=31536000; samesite=strict";
  };
  window.sitwellTone = (tone) => { sitwellSet("sitwell_tone", tone); show(tone); };
  window.sitwellPrefer = (name, value) => { sitwellSet(name, value); location.reload(); };
  show(cookie("sitwell_tone"));
  const shut = (kept) => document.querySelectorAll("details.view[open]").forEach((e) => {
    if (!e.contains(kept)) e.open = false;
  });
  addEventListener("click", (e) => shut(e.target));
  const typing = (e) => e.target.closest("input:not([type=checkbox]):not([type=radio]), select");
  addEventListener("keydown", (e) => {
    const open = document.querySelector("details.view[open]");
    if (e.key === "Escape" && open) {
      shut(null);
      open.querySelector("summary").focus();
    }
    if (e.key === "?" && !typing(e)) {
      const keys = document.querySelector("details.keys");
      shut(keys);
      if (keys) keys.open = !keys.open;
    }
  });
  // while words are held up or frames land, the screen stays awake; the browser may refuse
  const wake = () => {
    if (document.visibilityState === "visible" && document.querySelector(".speaker"))
      navigator.wakeLock?.request("screen").catch(() => {});
  };
  addEventListener("visibilitychange", wake);
  addEventListener("pointerdown", wake);
  addEventListener("keydown", wake);
})();
</script>"""
LOOK = '<link rel="stylesheet" href="/assets/pages.css">' + TONE_SCRIPT


@dataclass(slots=True)
class Desk:
    """One tab's place: the sitting it works on, and how to note a change."""

    server: ServerState
    sitting: Sitting
    tab: str

    @property
    def shelf(self) -> Shelf:
        """Where the papers lie."""
        return self.server.shelf

    def changed(self) -> None:
        """Save, and tell the other tabs."""
        self.shelf.changed(self.sitting, self.tab)


def greet(request: Request, title: str) -> Preferences:
    """Read the browser's preferences and name the page in its language."""
    client = context.client
    chosen = preferences_from(dict(request.cookies), request.headers.get("accept-language", ""))
    chosen = dataclasses.replace(chosen, one_page=bool(request.scope.get(ONE_PAGE)))
    app.storage.client["preferences"] = chosen
    # the page object is shared by all visitors; this visitor gets a copy to write on
    client.page = copy.copy(client.page)
    client.page.title = f"{speak(title, chosen.language)} · Sitwell"
    client.page.language = "de" if chosen.language == "de" else "en-US"
    return chosen


@contextmanager
def frame(here: str, title: str, desk: Desk | None = None) -> Iterator[None]:
    """The page around its content; ``here`` is the step's short name."""
    ui.add_head_html(LOOK)
    discreet, alone = preferences().discreet, preferences().one_page
    # the framework's page is the main landmark; banner and foot must lie outside it
    layout = context.client.layout
    with layout, box("header", "masthead") as masthead:
        masthead.move(target_container=layout, target_index=0)
        attributed(words("a", t("Go to the work"), "skip"), href="#work")
        if alone:
            words("span", "Sitwell", "wordmark")
        else:
            link("Sitwell", "/", "wordmark")
        if not (discreet or alone):
            _steps(here, desk)
            _keys()
        _view(discreet)
    with box("div", f"work {here}", id="work", tabindex="-1"):
        if not discreet:
            words("h1", t(title))
            if desk is not None and here != "talk":
                _warn(desk.sitting)
        yield
    if desk is not None and not (discreet or alone):
        with layout:
            _title_block(here, desk)


def put_away(desk: Desk | None) -> None:
    """What stands on a page that the sitter should not read."""
    words("p", t("This page is put away while the sitter may be looking."), "lead")
    if desk is not None:
        link(t("To the words for the sitter"), f"/s/{desk.sitting.id}/set", "btn main")


def lacks_leave(desk: Desk, *, everybody: bool = False) -> bool:
    """Whether the sitter in hand, or ``everybody``, has yet to say yes; if so, says where."""
    sitting = desk.sitting
    if everybody and len(sitting.sitters) > 1:
        text = t("Nothing is measured before each of the sitters has said yes; ask them first.")
        lacking = not sitting.everybody_agreed
    else:
        text = t("Nothing is measured before the sitter has said yes; ask them first.")
        lacking = not sitting.consent_at
    if lacking:
        if not everybody:
            choose_sitter(desk)
        notice(text, "trouble")
        link(t("To the talk"), address(desk, "talk"), "btn main")
    return lacking


def say_no_key(desk: Desk) -> None:
    """Nothing of kit and room can be the key; where to change that."""
    notice(t("Nothing in kit and room can be the key; add a light or a window."), "trouble")
    link(t("To kit and room"), address(desk, "kit"), "btn main")


def address(desk: Desk, page: str) -> str:
    """Where a page of this sitting is."""
    return f"/s/{desk.sitting.id}/{page}"


def in_hand_picture(desk: Desk) -> str:
    """Where the picture of the set-up in hand is; another address for each change of it."""
    sitting = desk.sitting
    return f"/seen/{sitting.id}/{sitting.at}/in-hand?of={desk.server.hand_mark(sitting)}"


def choose_sitter(desk: Desk) -> None:
    """Whose turn it is, where there are several; the choice holds for the whole sitting."""
    sitters = desk.sitting.sitters
    if len(sitters) < 2:
        return

    def choose(index: str) -> None:
        desk.sitting.at = int(index)
        desk.changed()
        ui.navigate.reload()

    offered = {
        str(index): sitter.label or t("Sitter {number}", number=index + 1)
        for index, sitter in enumerate(sitters)
    }
    choices(t("Who"), offered, str(desk.sitting.at), choose)


def _warn(sitting: Sitting) -> None:
    """Say on the last day that the papers go, while there is time to keep them longer."""
    if sitting.keep_until <= date.today():
        notice(
            t(
                "The papers of this sitting are erased after today; to keep them longer, choose a "
                "later day on the Talk page."
            ),
            "trouble",
        )


def _steps(here: str, desk: Desk | None) -> None:
    if desk is None:
        return
    with box("nav", "steps", aria_label=t("The work, step by step")), box("ol"):
        for page, name in (*STEPS.items(), *BESIDES.items()):
            with box("li", "beside" if page in BESIDES else ""):
                made = link(t(name), address(desk, page))
                if page == UNDER.get(here, here):
                    attributed(made, aria_current="page")


KEYS = {
    mark("← →"): mark("the words for the sitter, back and on (Set)"),
    mark("arrow keys"): mark("a control, a mark or a thing in a drawing, step by step"),
    mark("Shift and arrow keys"): mark("the same in larger steps"),
    mark("Delete"): mark("takes a mark away"),
    mark("+ − and arrow keys"): mark("two frames at the eyes, nearer and about (Sort)"),
    mark("Esc"): mark("closes what is open here"),
    mark("?"): mark("this list"),
}


def _keys() -> None:
    """The shortcuts, under the question mark."""
    with box("details", "view keys"):
        attributed(words("summary", "?"), aria_label=t("Shortcuts"))
        with box("dl", "view-sheet drift"):
            for key, does in KEYS.items():
                with box("div"):
                    words("dt", t(key))
                    words("dd", t(does))


def _view(discreet: bool) -> None:
    with box("details", "view"):
        words("summary", t("View"))
        with box("div", "view-sheet"):
            _setting(t("Light"), "sitwellTone", {"system": t("as the device"), "day": t("day"),
                     "dark": t("dark studio")})  # fmt: skip
            chosen = preferences()
            _preference(t("Language"), "sitwell_language", dict(LANGUAGES), chosen.language)
            units = {"metric": t("metres"), "imperial": t("feet and inches")}
            _preference(t("Lengths"), "sitwell_units", units, chosen.units)
            seen = {"0": t("everything"), "1": t("only what the sitter may read")}
            _preference(t("Show"), "sitwell_discreet", seen, "1" if discreet else "0")


def _setting(label: str, function: str, options: dict[str, str]) -> None:
    with box("p", "setting", role="group", aria_label=label):
        words("span", label, "setting-name")
        for value, text in options.items():
            _script_button(text, f"{function}('{value}')", f"tone-{value}")


def _preference(label: str, cookie: str, options: dict[str, str], chosen: str) -> None:
    with box("p", "setting", role="group", aria_label=label):
        words("span", label, "setting-name")
        for value, text in options.items():
            made = _script_button(text, f"sitwellPrefer('{cookie}', '{value}')")
            made.props["aria-pressed"] = "true" if value == chosen else "false"


def _script_button(text: str, script: str, classes: str = "") -> TextElement:
    """A button that the browser answers alone, also while the server is busy."""
    made = attributed(words("button", text, f"small {classes}"), type="button")
    made.on("click", js_handler=f"() => {script}")
    return made


def _title_block(here: str, desk: Desk) -> None:
    sitting = desk.sitting
    rows = {
        t("Sitting"): sitting.title(),
        t("Sheet"): t(TITLES[here]),
        t("Kept until"): day_words(sitting.keep_until),
        t("Papers"): t("saved on this machine as you work"),
    }
    with box("footer", "title-block"), box("dl"):
        for name, value in rows.items():
            with box("div"):
                words("dt", name)
                words("dd", value)
