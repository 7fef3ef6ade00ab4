"""One sheet for a couple or a group: the picture, the set, and each sitter's own moves by name."""

import json
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sitwell.base.errors import SheetError
from sitwell.base.files import make_atomically
from sitwell.base.words import language, number, retold, tr
from sitwell.brief.place_light import Daylight
from sitwell.likeness.portrayal import Image
from sitwell.search.group import GroupPlan, PlannedGroup
from sitwell.search.plan import PlannedSetup
from sitwell.sheet import sentences as s
from sitwell.sheet.care import care_notes
from sitwell.sheet.first_line import shared_line
from sitwell.sheet.group_drawing import group_drawing
from sitwell.sheet.group_words import (
    HEIGHTS,
    NUMBERED,
    TOGETHER,
    group_guard_words,
    place_words,
)
from sitwell.sheet.names import wish_name
from sitwell.sheet.page import MOST_GAINS, NOTICE, leeway_content, shortened
from sitwell.sheet.pdf import PNG_PPI, check_paper, lay_picture, sheet_desk
from sitwell.sheet.place_light import place_words as light_words
from sitwell.sheet.sentences import say
from sitwell.sheet.settings import Setting, sharp_words
from sitwell.sheet.words import sitter_words

TEMPLATE = Path(__file__).with_name("group.typ")
KINDS = {".pdf": "pdf", ".png": "png"}
PLAN_MM = (84.0, 74.0)
LONGEST = 420
NAMES = {"gentle": "Gentle", "balanced": "Balanced", "strong": "Strong"}

Content = dict[str, Any]


def write_group_sheet(
    plan: GroupPlan,
    planned: PlannedGroup,
    picture: Image,
    path: Path,
    *,
    caption: str = "",
    paper: str = "a4",
    discreet: bool = False,
    light: str = "",
    daylight: Daylight | None = None,
    more: Sequence[Setting] = (),
) -> Path:
    """The group's sheet at ``path`` (.pdf or .png), whole or not at all.

    ``picture``, (H, W, 3) or drawn, shows everybody, and ``caption`` is what must be said with it;
    ``discreet`` leaves wishes, guards and notes out; ``daylight`` is a key that stays where it is.
    SheetError for a paper or a kind of file that can't be, and where it can't be written.
    """
    check_paper(paper)
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise SheetError(
            tr(
                "A sheet can't be a '{suffix}' file; give a name in .pdf or .png.",
                suffix=path.suffix,
            )
        )
    content = group_content(
        plan,
        planned,
        paper=paper,
        discreet=discreet,
        light=light,
        daylight=daylight,
        more=more,
        caption=caption,
    )
    with sheet_desk(path) as desk:
        content["seen"] = lay_picture(desk, picture)
        drawing = group_drawing(planned.setup, plan.labels, *PLAN_MM, daylight)
        (desk / "plan.svg").write_text(drawing, encoding="utf-8")
        (desk / "page.json").write_text(json.dumps(content), encoding="utf-8")
        shutil.copyfile(TEMPLATE, desk / "page.typ")
        return make_atomically(path, lambda part: part.write_bytes(_typeset(desk, kind)))


def group_content(
    plan: GroupPlan,
    planned: PlannedGroup,
    *,
    paper: str,
    discreet: bool,
    light: str,
    daylight: Daylight | None = None,
    more: Sequence[Setting] = (),
    caption: str = "",
) -> Content:
    """All words of a group's sheet; a discreet one holds places, moves and settings only."""
    setup = planned.setup
    at = plan.setups.index(planned) + 1
    name = NAMES.get(planned.name, planned.name)
    title = say(NUMBERED, number=at) if discreet else say(TOGETHER, name=say(name))
    return {
        "paper": paper,
        "language": language(),
        "title": title,
        "first": shared_line(setup.shared, planned.planned[0].light),
        "names": ", ".join(shortened(label, 30) for label in plan.labels),
        "labels": {
            "say": say(s.SAY_TO_SITTER),
            "mirror": say(s.MIRROR),
            "set": say(s.SET),
            "above": say(s.FROM_ABOVE),
            "leeway": say(s.LEEWAY),
            "seen": retold(caption) or say(s.AS_SEEN),
            "trust": say(s.TRUST_THE_FRAME),
        },
        "people": [
            {
                "name": shortened(plan.labels[index], 30),
                "place": place_words(setup, index),
                "words": [
                    {"part": word.part, "sentence": word.sentence, "show": word.show}
                    for word in sitter_words(part.setup, part.light, part.expressions)
                ],
                "gains": [] if discreet else _gains(part),
            }
            for index in setup.left_to_right()
            for part in (planned.planned[index],)
        ],
        "settings": [
            {"name": row.name, "value": row.value, "note": row.note}
            for row in (
                *light_words(setup.shared, daylight),
                sharp_words(setup.shared, {}),
                *more,
            )
        ],
        "leeway": leeway_content(planned.leeway, setup.shared, reasons=False),
        "fine": _fine(plan, planned, discreet=discreet, light=light),
    }


def _gains(planned: PlannedSetup) -> list[Content]:
    """For each wish its name and how much of it a viewer would notice."""
    best: dict[str, float] = {}
    for gain in planned.gains:
        if abs(gain.gain) > abs(best.get(gain.wish, 0.0)):
            best[gain.wish] = gain.gain
    return [
        {"wish": wish_name(wish), "told": say(next(words for most, words in NOTICE if gain < most))}
        for wish, gain in sorted(best.items(), key=lambda each: -abs(each[1]))[:MOST_GAINS]
    ]


def _fine(plan: GroupPlan, planned: PlannedGroup, *, discreet: bool, light: str) -> list[Content]:
    care = [note.sentence for note in care_notes(planned.setup.shared, light)]
    for part in planned.planned:
        care += [note.sentence for note in care_notes(part.setup, light)]
    sections = [(s.CARE, list(dict.fromkeys(care)))]
    if not discreet:
        lost = [group_guard_words(guard.name) for guard in planned.guards if not guard.holds]
        notes = [*planned.notes, *(note for part in planned.planned for note in part.notes)]
        heights = say(
            HEIGHTS,
            step=number(planned.height_step, 1, whole=True),
            was=number(plan.baseline_height_step, 1, whole=True),
        )
        told = [heights, *notes, *plan.notes]
        sections = [
            (s.GUARDS, lost),
            (s.NOTES, told),
            *sections,
        ]
    return [
        {"heading": say(heading), "entries": [shortened(retold(text), LONGEST) for text in entries]}
        for heading, entries in sections
        if entries
    ]


def _typeset(desk: Path, kind: Any) -> bytes:
    import typst

    pages = typst.compile(desk / "page.typ", root=desk, format=kind, ppi=PNG_PPI, sys_inputs={})
    if not isinstance(pages, bytes):
        raise SheetError(
            tr("The group's sheet doesn't fit on one page; plan fewer sitters together.")
        )
    return pages
