"""The part of Kit and room that saves by name: take a saved one, save this one, take one out."""

from collections.abc import Callable
from typing import Any

from sitwell.ui.web.own_gear import OwnGear
from sitwell.ui.web.parts import box, button, text_field, words
from sitwell.ui.web.wording import t


def saved_part(
    gear: OwnGear,
    kept: dict[str, Any],
    save: Callable[[str], None],
    take: Callable[[Any], None],
    refresh: Callable[[], Any],
) -> None:
    """``kept`` are the saved ones by name; ``take`` uses one, ``save`` keeps the present one."""
    typed = {"name": ""}

    def keep() -> None:
        save(typed["name"])
        refresh()

    if kept:
        words("p", t("Saved by you"), "hint")
        with box("ul", "things"):
            for name, thing in kept.items():
                with box("li"):
                    words("span", name)
                    with box("span", "on-row"):
                        _row_button(t("use"), t("Use: {thing}", thing=name), _taker(take, thing))
                        _row_button(
                            t("take out"),
                            t("Take out: {thing}", thing=name),
                            _dropper(gear, kept, name, refresh),
                        )
    with box("div", "saving"):
        text_field(t("A name for this one"), "", lambda v: typed.update(name=v), maxlength="40")
        button(t("Save it"), keep)


def _row_button(text: str, said: str, do: Callable[[], None]) -> None:
    button(text, do, "small").props["aria-label"] = said


def _taker(take: Callable[[Any], None], thing: Any) -> Callable[[], None]:
    return lambda: take(thing)


def _dropper(
    gear: OwnGear, kept: dict[str, Any], name: str, refresh: Callable[[], Any]
) -> Callable[[], None]:
    def drop() -> None:
        gear.drop(kept, name)
        refresh()

    return drop
