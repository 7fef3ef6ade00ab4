"""The notice that is read out, and each sitter's own yes: on the Talk page, and before Read."""

from collections.abc import Callable
from typing import Any

from sitwell.ui.web.frame import Desk, choose_sitter
from sitwell.ui.web.paper import SitterNote, now
from sitwell.ui.web.parts import box, check, choices, group, notice, words
from sitwell.ui.web.wording import mark, t

NOTICE = mark(
    "This program measures your face in photographs, on this computer only, to suggest pose, "
    "camera and light. It does not say who you are, compare you with others or send anything "
    "away. It keeps the measurements until the day you choose, then deletes them. Your wishes are "
    "kept beyond the day after the sitting only if you agree. You can say no, see everything, or "
    "have it deleted."
)


def notice_part() -> None:
    """What is read out to everybody before anything is measured."""
    words("p", t(NOTICE), "reading")
    words("p", t("This is no legal advice; local law may ask for more."), "hint")


def yes_part(
    desk: Desk, index: int, sitter: SitterNote, on_change: Callable[[], Any] = lambda: None
) -> None:
    """Each sitter's own yes, or their guardian's."""

    def agreed(yes: bool) -> None:
        sitter.consent_at = now() if yes else ""
        if not yes:
            desk.server.unmeasure(desk.sitting, index)
        desk.changed()
        on_change()

    def by(who: str) -> None:
        sitter.consent_by = who
        desk.changed()

    with box("div", "yes"):
        check(t("Read out, and they said yes to being measured."), bool(sitter.consent_at), agreed)
        who = {"sitter": t("the sitter"), "guardian": t("their guardian")}
        choices(t("Who says yes"), who, sitter.consent_by, by)


def ask_here(desk: Desk, on_yes: Callable[[], Any]) -> bool:
    """Ask the sitter in hand for their yes where it is missing, in place; whether it was."""
    sitting = desk.sitting
    if sitting.consent_at:
        return False
    choose_sitter(desk)
    with group(t("Before anything is measured"), "consent"):
        asked = t("Nothing is measured before the sitter has said yes; ask them first.")
        notice(asked, "trouble")
        notice_part()
        yes_part(desk, sitting.sitters.index(sitting.sitter), sitting.sitter, on_yes)
    return True
