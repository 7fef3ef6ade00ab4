"""Talk: what the sitter likes, what they can do with ease, and what may be kept."""

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import Any

from nicegui import ui

from sitwell.base.units import MM_PER_INCH
from sitwell.brief.comfort import LIMITS
from sitwell.brief.request import HEIGHT_RANGE_MM
from sitwell.brief.wishes import FEATURES, usual_direction
from sitwell.store.days import day_words
from sitwell.ui.web import names
from sitwell.ui.web.consent import notice_part, yes_part
from sitwell.ui.web.frame import Desk, address
from sitwell.ui.web.paper import SitterNote, Sitting
from sitwell.ui.web.parts import (
    box,
    button,
    check,
    choices,
    group,
    link,
    notice,
    text_field,
    words,
)
from sitwell.ui.web.wording import mark, preferences, t

# Each feature's ways in its own words, by direction; what is usually meant is chosen at first.
AS_IT_IS = mark("just as it is")
LESS_SEEN, MORE_SEEN = mark("less to be seen"), mark("more to be seen")
DIRECTIONS = {
    "forehead": {"soften": mark("lower"), "bring-out": mark("higher")},
    "thinning-hair": {"soften": LESS_SEEN, "bring-out": MORE_SEEN},
    "nose-length": {"soften": mark("shorter"), "bring-out": mark("longer")},
    "nose-bend": {"soften": mark("straighter"), "bring-out": mark("more of its line")},
    "nose-width": {"soften": mark("narrower"), "bring-out": mark("wider")},
    "ears": {"soften": LESS_SEEN, "bring-out": MORE_SEEN},
    "eye-balance": {"soften": mark("alike")},
    "eye-size": {"bring-out": mark("larger"), "soften": mark("smaller")},
    "lively-eyes": {"bring-out": mark("livelier")},
    "jaw": {"soften": mark("firmer"), "bring-out": MORE_SEEN},
    "face-width": {"soften": mark("narrower"), "bring-out": mark("wider")},
    "neck": {"soften": LESS_SEEN, "bring-out": MORE_SEEN},
    "glasses": {"soften": mark("clear of glare")},
    "skin": {"soften": mark("smoother"), "bring-out": mark("more of its texture")},
    "smile": {
        "fuller-own-left": mark("fuller on their left"),
        "fuller-own-right": mark("fuller on their right"),
        "soften": mark("no side known"),
    },
}
WEIGHTS = {
    "1": mark("would be nice"),
    "2": mark("please"),
    "3": mark("matters most"),
}
EASE = {
    "stiff-neck": mark("A stiff or sore neck"),
    "dizziness": mark("Gets dizzy easily"),
    "no-chin-up": mark("Would rather not lift the chin"),
    "no-chin-down": mark("Would rather not lower the chin"),
    "no-turn-to-own-left": mark("Would rather not turn to their left"),
    "no-turn-to-own-right": mark("Would rather not turn to their right"),
    "no-tilt": mark("Would rather not tilt the head"),
    "no-leaning": mark("Would rather not lean forward"),
    "seated": mark("Sits"),
    "wheelchair": mark("Uses a wheelchair"),
    "late-pregnancy": mark("Late in a pregnancy"),
}
ASK = {
    "neck": mark("Neck pain or dizziness: asked. No pose is held for long."),
    "flash": mark("Flash: asked about photosensitive epilepsy and migraine."),
    "touch": mark("Touch only if they say so; showing is better."),
    "guardian": mark("A child: the guardian is in the room."),
}
HAIR = {"full": mark("full"), "thin": mark("thin or none"), "covered": mark("covered")}
HEIGHTS = {"leave": AS_IT_IS, "soften": mark("smaller"), "bring-out": mark("larger")}
# Days after that of the sitting.
KEEP = {
    "0": mark("that day only"),
    "1": mark("the day after"),
    "7": mark("a week after"),
    "90": mark("three months after"),
    "365": mark("a year after"),
}
MOST_DAYS_AHEAD = 366


def content(desk: Desk) -> None:
    """The whole talk on one screen, in the order in which people talk."""
    words("p", t("Sit down together. Only what the sitter brings up becomes a wish."), "lead")

    @ui.refreshable
    def sheet() -> None:
        if len(desk.sitting.sitters) == 1:
            _talk_of_one(desk)
        else:
            _talk_of_several(desk)
        with box("div", "onward"):
            link(t("On to the test frames"), address(desk, "read"), "btn main")
            _more_sitters(desk, sheet.refresh)

    sheet()


def _talk_of_one(desk: Desk) -> None:
    sitter = desk.sitting.sitters[0]
    with box("section", "talk-sheet sitter", aria_label=t("The talk")):
        with box("div"):
            _who(desk)
            with group(t("Before anything is measured"), "consent"):
                notice_part()
                yes_part(desk, 0, sitter)
                _papers(desk)
        with box("div"):
            _wishes(desk, sitter)
            _ask(desk)
        with box("div"):
            _ease(desk, sitter)
            _face(desk, sitter)


def _talk_of_several(desk: Desk) -> None:
    with box("section", "talk-sheet", aria_label=t("For everybody")):
        with box("div"):
            _who(desk)
            _heights(desk)
        with box("div"), group(t("Before anything is measured"), "consent"):
            notice_part()
            _papers(desk)
        with box("div"):
            _ask(desk)
    for index, sitter in enumerate(desk.sitting.sitters):
        _one_of_several(desk, index, sitter)


def _who(desk: Desk) -> None:
    def name(value: str) -> None:
        desk.sitting.label = value.strip()[:80]
        desk.changed()

    text_field(
        t("What to call this sitting"),
        desk.sitting.label,
        name,
        hint=t("A first name or a number is enough."),
        maxlength="80",
    )


def _papers(desk: Desk) -> None:
    """How long the papers are kept: said in a sentence, changed behind a fold."""
    sitting = desk.sitting

    @ui.refreshable
    def term() -> None:
        _term(sitting)

    def on(value: str) -> None:
        _set_day(sitting, value)
        desk.changed()
        term.refresh()

    def keep(days: str) -> None:
        sitting.keep_days = int(days)
        desk.changed()
        term.refresh()

    def keep_wishes(yes: bool) -> None:
        sitting.keep_wishes = yes
        desk.changed()
        term.refresh()

    with box("div", role="status"):
        term()
    with box("details", "fold"):
        words("summary", t("the day, and how long to keep"))
        text_field(t("The day of the sitting"), sitting.on.isoformat(), on, kind="date",
                   min=sitting.begun_on.isoformat())  # fmt: skip
        days = {key: t(text) for key, text in KEEP.items()}
        choices(t("Keep the papers until"), days, str(sitting.keep_days), keep)
        check(t("The wishes may be kept as long as the rest."), sitting.keep_wishes, keep_wishes)


def _ask(desk: Desk) -> None:
    with group(t("Ask first"), "ask"):
        _ticks(desk, desk.sitting.asked, ASK)


def _set_day(sitting: Sitting, value: str) -> None:
    """Another day for the sitting; a term that was given as a day stays that day."""
    try:
        day = date.fromisoformat(value)
    except ValueError:
        day = sitting.begun_on
    day = min(max(day, sitting.begun_on), sitting.begun_on + timedelta(days=MOST_DAYS_AHEAD))
    if str(sitting.keep_days) not in KEEP:
        sitting.keep_days = max(0, sitting.keep_days - (day - sitting.on).days)
    sitting.day = day.isoformat()


def _term(sitting: Sitting) -> None:
    """Until when, in words, and what goes then."""
    day, today = day_words(sitting.keep_until), date.today()
    if sitting.keep_until < today:
        notice(t("{day} is over: frames, marks, plan and sheets are erased within the hour.",
                 day=day), "trouble")  # fmt: skip
    else:
        words("p", t("Frames, marks, plan and sheets are kept until {day}, then erased.", day=day))
    if sitting.keep_wishes_until < sitting.keep_until:
        words("p", t("The wishes are kept until {day}, then erased.",
                     day=day_words(sitting.keep_wishes_until)))  # fmt: skip


def _one_of_several(desk: Desk, index: int, sitter: SitterNote) -> None:
    name = t("Sitter {number}", number=index + 1)

    def label(value: str) -> None:
        sitter.label = value.strip()[:40]
        desk.changed()

    with box("section", "sitter", aria_label=name):
        words("h2", name)
        with box("div", "talk-sheet"):
            with box("div"):
                text_field(t("What to call them"), sitter.label, label, maxlength="40")
                _height(desk, sitter)
                with group(t("Their own yes"), "consent"):
                    yes_part(desk, index, sitter)
            with box("div"):
                _wishes(desk, sitter)
            with box("div"):
                _ease(desk, sitter)
                _face(desk, sitter)


def _ease(desk: Desk, sitter: SitterNote) -> None:
    with group(t("What is comfortable"), "ease", t("Tick what the sitter tells you.")):
        known = {key: text for key, text in EASE.items() if key in LIMITS}
        _ticks(desk, sitter.limits, known)


def _height(desk: Desk, sitter: SitterNote) -> None:
    """How tall somebody is, which counts where several stand together."""
    imperial = preferences().units == "imperial"
    unit_mm = MM_PER_INCH if imperial else 10.0
    label = t("How tall, in inches") if imperial else t("How tall, in centimetres")

    def tall(value: str) -> None:
        try:
            height_mm = float(value.replace(",", ".") or 0) * unit_mm
        except ValueError:
            height_mm = 0.0
        low_mm, high_mm = HEIGHT_RANGE_MM
        sitter.height_mm = height_mm if low_mm <= height_mm <= high_mm else 0.0
        desk.changed()

    now = f"{sitter.height_mm / unit_mm:.0f}" if sitter.height_mm else ""
    hint = t("Ask only if they will stand together; left out, everybody is as tall.")
    text_field(label, now, tall, hint=hint, kind="number", min="0", step="1")


def _heights(desk: Desk) -> None:
    """What they wish about their difference in height."""
    heights = desk.sitting.heights

    def aim(value: str) -> None:
        heights[0] = value
        desk.changed()

    with group(t("Together"), "heights"):
        aims = {key: t(text) for key, text in HEIGHTS.items()}
        choices(t("Their difference in height"), aims, str(heights[0]), aim)


def _wishes(desk: Desk, sitter: SitterNote) -> None:
    with group(t("Wishes"), "wishes", t("Touch what they bring up, and leave the rest.")):

        @ui.refreshable
        def asked() -> None:
            with box("div", "asked", aria_live="polite"):
                for feature in sitter.wishes:
                    _wish(desk, sitter, feature)

        with box("div", "features", role="group", aria_label=t("What the sitter brings up")):
            for feature in FEATURES:
                _feature(desk, sitter, feature, asked.refresh)
        asked()


def _feature(desk: Desk, sitter: SitterNote, feature: str, refresh: Callable[[], Any]) -> None:
    def toggle() -> None:
        if sitter.wishes.pop(feature, None) is None:
            sitter.wishes[feature] = [usual_direction(feature), 2]
        made.props["aria-pressed"] = "true" if feature in sitter.wishes else "false"
        made.update()
        desk.changed()
        refresh()

    made = button(names.wish_title(feature), toggle, "feature")
    made.props["aria-pressed"] = "true" if feature in sitter.wishes else "false"


def _wish(desk: Desk, sitter: SitterNote, feature: str) -> None:
    direction, weight = sitter.wishes[feature]
    name = names.wish_title(feature)

    def aim(value: str) -> None:
        sitter.wishes[feature][0] = value
        undecided.set_visibility(False)
        desk.changed()

    def weigh(value: str) -> None:
        sitter.wishes[feature][1] = int(value)
        desk.changed()

    with box("div", "wish"):
        words("h2", name, "sub")
        ways = {**DIRECTIONS[feature], "leave": AS_IT_IS}
        aims = {key: t(text) for key, text in ways.items()}
        undecided = notice(t("Ask which way it is meant; until then the plan leaves it out."))
        undecided.set_visibility(not direction)
        choices(t("{wish}: which way", wish=name), aims, direction, aim, "unnamed")
        weights = {key: t(text) for key, text in WEIGHTS.items()}
        choices(t("{wish}: how much", wish=name), weights, str(weight), weigh, "unnamed")


def _face(desk: Desk, sitter: SitterNote) -> None:
    def glasses(yes: bool) -> None:
        sitter.glasses = yes
        desk.changed()

    def hair(value: str) -> None:
        sitter.hair = value
        desk.changed()

    with group(t("What the camera will meet"), "meet"):
        check(t("Wears glasses for the picture"), sitter.glasses, glasses)
        choices(t("Hair"), {key: t(text) for key, text in HAIR.items()}, sitter.hair, hair)
        words("p", t("Hair is noted for you; the plan does not count it."), "hint")


def _more_sitters(desk: Desk, refresh: Callable[[], Any]) -> None:
    sitters = desk.sitting.sitters

    def add() -> None:
        sitters.append(SitterNote())
        desk.changed()
        refresh()

    def drop() -> None:
        sitters.pop()
        desk.sitting.at = 0
        desk.changed()
        refresh()

    with box("div", "onward"):
        button(t("One more sitter"), add, "quiet")
        last = sitters[-1]
        if len(sitters) > 1 and not (last.frames or last.wishes or last.limits or last.consent_at):
            button(t("Take the last one away"), drop, "quiet")


def _ticks(desk: Desk, ticked: list[str], texts: Mapping[str, str]) -> None:
    with box("div", "ticks"):
        for key, text in texts.items():
            _tick(desk, ticked, key, t(text))


def _tick(desk: Desk, ticked: list[str], key: str, text: str) -> None:
    def tick(yes: bool) -> None:
        if yes and key not in ticked:
            ticked.append(key)
        elif not yes and key in ticked:
            ticked.remove(key)
        desk.changed()

    check(text, key in ticked, tick)
