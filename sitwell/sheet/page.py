"""What stands on a set sheet: a planned set-up as plain words, ready for the typesetter.

Values only, no markup: the page is composed by page.typ, which reads these words from a file, so
nothing that a person typed is ever taken for a command.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sitwell.base.words import language, message_of, retold
from sitwell.brief.place_light import Daylight
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, GuardState, Leeway, Plan, PlannedSetup
from sitwell.search.sentences import END_OF_RANGE, GAIN_LOST
from sitwell.sheet import sentences as s
from sitwell.sheet.care import care_notes
from sitwell.sheet.first_line import first_line
from sitwell.sheet.names import (
    becomes_words,
    is_yes_or_no,
    measure_name,
    measure_value,
    move_name,
    move_range,
    move_value,
    why_words,
    wish_name,
)
from sitwell.sheet.nudges import SITTER_MOVES
from sitwell.sheet.place_light import place_words
from sitwell.sheet.sentences import say
from sitwell.sheet.settings import Setting, pattern_words, sharp_words
from sitwell.sheet.words import sitter_words

SPACES = re.compile(r"[^\S\u00a0]+")  # a number and its unit stay together
LONGEST_NAME = 64
LONGEST_SITTER = 40
LONGEST_ENTRY = 420
MOST_GAINS = 3
# Gain in units of what a viewer can just notice, up to which these words are used.
NOTICE = ((-0.25, s.NOTICE_AGAINST), (0.75, s.NOTICE_NONE), (1.5, s.NOTICE_JUST),
          (3.0, s.NOTICE_CLEAR), (float("inf"), s.NOTICE_STRONG))  # fmt: skip

Content = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the fine print: a strong word, its value, a quieter detail."""

    strong: str = ""
    value: str = ""
    detail: str = ""
    lost: bool = False

    def content(self) -> Content:
        """The entry for the typesetter, cut to the longest that a page can bear."""
        return {
            "strong": shortened(self.strong, LONGEST_ENTRY),
            "value": shortened(self.value, LONGEST_ENTRY),
            "detail": shortened(self.detail, LONGEST_ENTRY),
            "lost": self.lost,
        }


def page_content(
    planned: PlannedSetup,
    plan: Plan,
    *,
    paper: str,
    discreet: bool,
    sitter: str,
    light: str = "",
    daylight: Daylight | None = None,
    more: Sequence[Setting] = (),
    caption: str = "",
) -> Content:
    """All words of one sheet; a discreet one holds the moves and settings and nothing else.

    ``daylight`` is a key that stays where it is; ``more`` settings, such as the exposure, follow;
    ``caption`` tells what the picture is made from.
    """
    setup = planned.setup
    straight_on = plan.baseline_measures
    return {
        "paper": paper,
        "language": language(),
        "title": shortened(_title(planned, plan, discreet), LONGEST_NAME),
        "sitter": shortened(sitter, LONGEST_SITTER),
        "first": first_line(setup, planned.measures, straight_on, planned.light, discreet=discreet),
        "labels": _labels() | {"seen": retold(caption) or say(s.AS_SEEN)},
        "words": [
            {"part": word.part, "sentence": word.sentence, "show": word.show}
            for word in sitter_words(setup, planned.light, planned.expressions)
        ],
        "settings": [
            {"name": setting.name, "value": setting.value, "note": setting.note}
            for setting in (
                *place_words(setup, daylight),
                sharp_words(setup, {} if discreet else planned.measures),
                *pattern_words(planned.measures, setup.fill_ratio),
                *more,
            )
        ],
        "leeway": leeway_content(planned.leeway, setup, reasons=not discreet),
        "fine": _sections(
            *(() if discreet else _background(planned, plan)), (s.CARE, _care(setup, light))
        ),
    }


def shortened(text: str, longest: int) -> str:
    """The text on one line, cut at ``longest`` letters with an ellipsis."""
    line = SPACES.sub(" ", text).strip()
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def _title(planned: PlannedSetup, plan: Plan, discreet: bool) -> str:
    """The set-up's name; on a discreet sheet its number, for a name may tell of a wish."""
    if not discreet:
        return setup_title(planned.name)
    if planned in plan.setups:
        return say(s.SET_UP_NUMBER, number=plan.setups.index(planned) + 1)
    return say(s.SET_UP)


def setup_title(name: str) -> str:
    """A name as a title; a single word such as "gentle" needs the word set-up behind it."""
    if name in s.SET_UP_NAMES:
        return say(s.SET_UP_NAMES[name])
    title = name[:1].upper() + name[1:]
    if not title:
        return say(s.SET_UP)
    return title if " " in title else say(s.NAMED_SET_UP, name=title)


def _labels() -> Content:
    return {
        "leeway": say(s.LEEWAY),
        "say": say(s.SAY_TO_SITTER),
        "mirror": say(s.MIRROR),
        "set": say(s.SET),
        "plan": say(s.FROM_ABOVE),
        "side": say(s.FROM_SIDE),
        "seen_alt": say(s.PICTURE),
        "trust": say(s.TRUST_THE_FRAME),
    }


def _background(planned: PlannedSetup, plan: Plan) -> tuple[tuple[str, list[Entry]], ...]:
    return (
        (s.GAINS, _gains(planned.gains)),
        (s.GUARDS, [_lost_guard(guard) for guard in planned.guards if not guard.holds]),
        (s.NOTES, [Entry(detail=retold(note)) for note in (*planned.notes, *plan.notes)]),
    )


def _sections(*sections: tuple[str, list[Entry]]) -> list[Content]:
    return [
        {
            "heading": say(heading),
            "entries": [entry.content() for entry in entries],
            "more": say(s.AND_MORE),
            "whole": heading == s.CARE,
        }
        for heading, entries in sections
        if entries
    ]


def leeway_content(rows: Sequence[Leeway], setup: Setup, *, reasons: bool) -> list[Content]:
    """A row for each move that can't go anywhere it likes, with what ends it on the nearer side."""
    return [_leeway_row(row, setup, reasons=reasons) for row in rows if not row.is_free]


def _leeway_row(row: Leeway, setup: Setup, *, reasons: bool) -> Content:
    low, high, side = move_range(row.move, row.low, row.high)
    # Both on the negative side: the smaller amount is said first.
    ends = [high, low] if row.high <= 0 and side else [low, high]
    planned = getattr(setup, row.move, None)
    aim = planned if row.move in SITTER_MOVES else None
    return {
        "name": move_name(row.move),
        "range": say(s.FROM_TO, low=ends[0], high=ends[1]) if low != high else low,
        "side": side,
        "aim": "" if aim is None else say(s.AIM, value=move_value(row.move, aim)),
        "why": _nearer_end(row, planned) if reasons else "",
    }


def _nearer_end(row: Leeway, planned: float | None) -> str:
    """What would go wrong past the nearer end, if it is more than a little less of the gain."""
    value = 0.5 * (row.low + row.high) if planned is None else planned
    is_low = value - row.low <= row.high - value
    end, why = (row.low, row.low_why) if is_low else (row.high, row.high_why)
    if not why or message_of(why) in (END_OF_RANGE, GAIN_LOST):
        return ""
    why = shortened(why_words(why), LONGEST_ENTRY)
    one_sided = row.low * row.high > 0
    under = one_sided and abs(end) == min(abs(row.low), abs(row.high))
    return say(s.UNDER if under else s.PAST, value=move_value(row.move, end), why=why)


def _gains(gains: tuple[Gain, ...]) -> list[Entry]:
    """The wishes that gain or lose most, each by the measure that tells most of it."""
    telling: dict[str, Gain] = {}
    for gain in sorted(gains, key=lambda gain: -abs(gain.gain)):
        telling.setdefault(gain.wish, gain)
    return [
        Entry(
            strong=wish_name(gain.wish),
            value=say(next(words for limit, words in NOTICE if gain.gain < limit)),
            detail=say(
                s.WAS_BECOMES,
                name=measure_name(gain.measure),
                was=measure_value(gain.measure, gain.was),
                becomes=becomes_words(gain),
            ),
        )
        for gain in list(telling.values())[:MOST_GAINS]
    ]


def _lost_guard(guard: GuardState) -> Entry:
    if is_yes_or_no(guard.measure):
        return Entry(strong=say(s.LOST), value=why_words(guard.name), lost=True)
    limit = measure_value(guard.measure, guard.limit)
    bound = say(s.AT_LEAST if guard.must_be == "at least" else s.AT_MOST, limit=limit)
    value = measure_value(guard.measure, guard.value)
    return Entry(
        strong=say(s.LOST),
        value=why_words(guard.name),
        detail=f"{measure_name(guard.measure)}: {say(s.NOW_WITH_LIMIT, value=value, limit=bound)}",
        lost=True,
    )


def _care(setup: Setup, light: str) -> list[Entry]:
    return [Entry(detail=note.sentence) for note in care_notes(setup, light)]
