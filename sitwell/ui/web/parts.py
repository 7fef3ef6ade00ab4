"""The few parts that every page is built of: plain HTML controls, wired to Python.

They are native inputs and buttons, so that the keyboard, touch and a screen reader already know
them; how they look is in ``assets/pages.css``.
"""

import uuid
from collections.abc import Awaitable, Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement

from sitwell.base.words import retold
from sitwell.ui.web.brief import Reach
from sitwell.ui.web.jobs import Job
from sitwell.ui.web.wording import number, t

Handler = Callable[[Any], Awaitable[None] | None]


def words(tag: str, text: str, classes: str = "") -> TextElement:
    """A text in an HTML tag, in the reader's language where it knows how it was made."""
    return TextElement(tag=tag, text=retold(text)).classes(classes)


def box(tag: str = "div", classes: str = "", **attributes: str) -> ui.element:
    """An element to put others in."""
    return attributed(ui.element(tag).classes(classes), **attributes)


def attributed(element: Any, **attributes: str) -> Any:
    """Set HTML attributes by name; ``aria_label`` is written aria-label."""
    for name, value in attributes.items():
        element.props[_attribute(element, name)] = value
    return element


def _attribute(element: Any, name: str) -> str:
    """How the framework wants an attribute named; an input's value is only what it starts with.

    Left as a property it would be put back under the finger whenever anything on the page changes;
    the caret makes it a plain attribute.
    """
    if name == "value" and element.tag == "input":
        return "^value"
    return name.rstrip("_").replace("_", "-")


def button(text: str, on_click: Callable[[], Any], kind: str = "") -> TextElement:
    """A button; ``kind`` is "main" for the one that goes on with the work, or "quiet"."""
    made = words("button", text, f"btn {kind}")
    attributed(made, type="button").on("click", lambda _: on_click(), [])
    return made


def link(text: str, target: str, classes: str = "") -> TextElement:
    """A link to another page."""
    return attributed(words("a", text, classes), href=target)


@contextmanager
def group(legend: str, classes: str = "", hint: str = "") -> Iterator[ui.element]:
    """Controls that belong together, under one legend."""
    with box("fieldset", f"group {classes}") as fieldset:
        words("legend", legend)
        if hint:
            words("p", hint, "hint")
        yield fieldset


def choices(
    legend: str,
    options: Mapping[str, str],
    value: str,
    on_change: Handler,
    classes: str = "",
) -> ui.element:
    """One of a few, side by side: radio buttons that look like a ruled strip."""
    name = f"n{uuid.uuid4().hex[:8]}"
    with box("fieldset", f"choices {classes}") as fieldset:
        words("legend", legend)
        with box("div", "strip"):
            for key, text in options.items():
                with box("label"):
                    radio = attributed(ui.element("input"), type="radio", name=name, value=key)
                    radio.props["checked"] = key == value
                    radio.on("change", lambda event: on_change(event.args), js_handler=_VALUE)
                    words("span", text)
    return fieldset


def check(text: str, value: bool, on_change: Handler, hint: str = "") -> ui.element:
    """A box to tick."""
    with box("label", "check") as label:
        made = attributed(ui.element("input"), type="checkbox")
        made.props["checked"] = value
        made.on(
            "change",
            lambda event: on_change(event.args),
            js_handler="(e) => emit(e.target.checked)",
        )
        with box("span"):
            words("span", text)
            if hint:
                words("span", hint, "hint")
    return label


def text_field(
    label: str, value: str, on_change: Handler, hint: str = "", kind: str = "text", **more: str
) -> ui.element:
    """One line to type in; told when it is left."""
    with box("label", "field"):
        words("span", label)
        made = attributed(ui.element("input"), type=kind, value=value, autocomplete="off", **more)
        made.on("change", lambda event: on_change(event.args), js_handler=_VALUE)
        if hint:
            words("span", hint, "hint")
    return made


def pick(label: str, options: Mapping[str, str], value: str, on_change: Handler) -> ui.element:
    """One of many, in the browser's own list."""
    with box("label", "field"):
        words("span", label)
        with box("select") as made:
            for key, text in options.items():
                attributed(words("option", text), value=key).props["selected"] = key == value
        made.on("change", lambda event: on_change(event.args), js_handler=_VALUE)
    return made


def twice(text: str, sure: str, do: Callable[[], Any]) -> None:
    """A button that asks once more, in its own place."""
    with box("span", "twice"):
        first = button(text, lambda: (first.set_visibility(False), second.set_visibility(True)),
                       "quiet")  # fmt: skip
        second = button(sure, do, "main")
        second.set_visibility(False)


def notice(text: str, kind: str = "note") -> TextElement:
    """A sentence to read: a "note", or "trouble" where something has to be done."""
    role = "alert" if kind == "trouble" else "note"
    return attributed(words("p", text, f"notice {kind}"), role=role)


class Slider:
    """A move by hand: its name, its value in words, how far it may drift, and a way to hold it."""

    def __init__(
        self,
        name: str,
        reach: Reach,
        value: float,
        on_move: Handler,
        *,
        held: bool,
        on_hold: Handler,
        says: Callable[[float], str],
        leeway: tuple[float, float] | None,
    ) -> None:
        self._says = says
        with box("div", "slider"):
            with box("label"):
                with box("span", "slider-head"):
                    words("span", name)
                    self._value = words("output", says(value))
                self._input = attributed(
                    ui.element("input"),
                    type="range",
                    min=f"{reach.low:g}",
                    max=f"{reach.high:g}",
                    step=f"{reach.step:g}",
                    value=f"{value:g}",
                    aria_valuetext=says(value),
                )
            self._input.style(_band(reach, leeway))
            self._input.on(
                "input", lambda event: on_move(event.args), js_handler=_NUMBER, throttle=0.03
            )
            hold = check(t("hold"), held, on_hold)
            hold.classes("hold")
            hold.props["title"] = t("Hold {move} when searching again", move=name)

    def say(self, value: float) -> None:
        """Tell the value in words; the thumb stays under the finger."""
        self._value.set_text(self._says(value))
        self._input.props["aria-valuetext"] = self._says(value)

    def put(self, value: float) -> None:
        """Move the thumb as well, for a value that came from elsewhere."""
        ui.run_javascript(f"document.getElementById('{self._input.html_id}').value = {value:g}")
        self.say(value)


class Progress:
    """A long job as it goes: what it is doing, how far it is, and a way to stop it."""

    def __init__(self, on_stop: Callable[[], Any]) -> None:
        with box("div", "progress") as self.element:
            self.says = attributed(words("p", ""), role="status")
            self.bar = attributed(ui.element("progress"), max="1", aria_label=t("Progress"))
            button(t("Stop"), on_stop)
        self.element.set_visibility(False)

    def show(self, share: float, doing: str) -> None:
        """Say how far the job is, 0..1, and what it does."""
        self.element.set_visibility(True)
        self.says.set_text(doing)
        self.bar.props["value"] = f"{share:.3f}"

    def hide(self) -> None:
        """The job is over."""
        self.element.set_visibility(False)

    def follow(self, job: Job | None) -> None:
        """Show a job while it goes on, and nothing where none does."""
        if job is None or job.over:
            return self.hide()
        doing = t(job.doing) if job.doing else t("waiting for its turn")
        self.show(job.share, f"{doing}, {_time_words(job)}")


FOLDERS = "last-folders"


def last_folders(folders: Sequence[str]) -> None:
    """The folders used last, offered where one is typed with ``list=FOLDERS``."""
    with box("datalist", id=FOLDERS):
        for folder in folders:
            attributed(ui.element("option"), value=folder)


def target_picture(address: str, aspect: str) -> None:
    """The set-up in hand, as the camera will see it, beside what is said or shot for it."""
    wide, high = aspect.split(":")
    with box("figure", "target"):
        name = t("The set-up in hand, as the camera will see it")
        made = attributed(ui.element("img"), src=address, alt=name, loading="lazy")
        made.style(f"aspect-ratio: {wide} / {high}")


def _time_words(job: Job) -> str:
    """How long a job will still take, or how long it has gone on where that can't be told."""
    left = job.seconds_left
    if left is None:
        return t("{seconds} s", seconds=number(job.seconds, 0))
    rounded = 5 * max(1, round(left / 5))
    return t("about {seconds} s left", seconds=number(rounded, 0))


class Pair:
    """A picture with the straight-on one under it, which a slide uncovers; "" is not there yet."""

    def __init__(self, before: str, after: str, alt: str, aspect: str) -> None:
        wide, high = aspect.split(":")
        with box("div", "pair") as self._box:
            self._box.style(f"aspect-ratio: {wide} / {high}")
            self._after = attributed(ui.element("img"), alt=alt, loading="lazy")
            self._before = attributed(ui.element("img").classes("before"), alt="", loading="lazy")
        with box("label", "uncover"):
            words("span", t("straight on"))
            slide = attributed(ui.element("input"), type="range", min="0", max="100", value="0")
            slide.on("input", js_handler=_UNCOVER)
        self.put(before, after)

    def put(self, before: str, after: str) -> None:
        """Show other pictures in the same place."""
        for image, source in ((self._after, after), (self._before, before)):
            image.set_visibility(bool(source))
            if source and image.props.get("src") != source:
                image.props["src"] = source
                image.update()


def _band(reach: Reach, leeway: tuple[float, float] | None) -> str:
    """Where the leeway lies on the track, for the style sheet."""
    if leeway is None or reach.high <= reach.low:
        return "--from: 0%; --to: 0%"
    low, high = ((end - reach.low) / (reach.high - reach.low) for end in leeway)
    return f"--from: {100 * max(low, 0.0):.1f}%; --to: {100 * min(high, 1.0):.1f}%"


_VALUE = "(e) => emit(e.target.value)"
_NUMBER = "(e) => emit(Number(e.target.value))"
_UNCOVER = """(e) => e.target.parentElement.previousElementSibling.style
  .setProperty('--cut', e.target.value + '%')"""
