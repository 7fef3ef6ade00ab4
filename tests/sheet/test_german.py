"""A sheet in German: whole plans are searched, and every printed sentence is read for English."""

import re
from dataclasses import replace

import pytest

from sitwell.base import words
from sitwell.base.words import spoken, tr
from sitwell.brief.kit import DEFAULT_KIT
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.room import DEFAULT_ROOM
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.wishes import parse_wish
from sitwell.scene.daylight_level import own_light
from sitwell.scene.exposure import Exposure
from sitwell.search.group_words import OF_ONE
from sitwell.search.planner import make_plan
from sitwell.search.sentences import NOTE_ONE_CATCHLIGHT, NOTE_OPPOSED, STAGES
from sitwell.sheet.drawing import plan_drawing, side_drawing
from sitwell.sheet.exposure import background_setting, exposure_setting
from sitwell.sheet.group_page import group_content
from sitwell.sheet.nudges import SITTER_MOVES, STUDIO_MOVES, nudge_words
from sitwell.sheet.page import page_content
from sitwell.sheet.plan_file import load_plan, save_plan
from tests.search.conftest import StandInEvaluator
from tests.sheet.english import english_left
from tests.sheet.test_group_page import NAMES, plan_for

FEW = 150
BRIEFS = {
    "ears and nose": (("ears:soften:3", "nose-length"), {}),
    "forehead, cut into": (("forehead", "jaw"), {"framing": "tight-head"}),
    "everything left": (("ears:leave", "smile:leave"), {}),
    "no wish": ((), {}),
    "pulling apart": (("eye-size:bring-out", "nose-length:bring-out", "neck:less-seen"), {}),
    "hair and glasses": (("thinning-hair", "glasses", "lively-eyes"), {}),
    "three flashes": (("face-width:narrower",), {"kit": KITS["three-flashes"]}),
    "small flash": (("skin",), {"kit": KITS["small-flash"]}),
    **{f"in {name}": (("skin", "eye-balance"), {"room": room}) for name, room in ROOMS.items()},
}
EXPOSURES = tuple(
    Exposure(
        f_number=2.8,
        iso=200.0,
        shutter_s=0.00625,
        power=power,
        short_stops=short,
        over_stops=over,
        by_hand_s=0.01,
        room_stops=1.5,
    )
    for power in (None, 0.125)
    for short, over in ((0.0, 0.0), (1.5, 0.0), (0.0, 1.0))
)


def searched(brief, **more):
    asked, how = BRIEFS[brief]
    evaluator = StandInEvaluator(glasses="glasses" in brief)
    return make_plan(
        evaluator,
        [parse_wish(wish) for wish in asked],
        measure_names=evaluator.names,
        evaluations=FEW,
        **how,
        **more,
    )


def place_of(brief):
    return {name: part for name, part in BRIEFS[brief][1].items() if name in ("kit", "room")}


def printed(plan, kit=DEFAULT_KIT, room=DEFAULT_ROOM):
    """Every text of every sheet of a plan, the drawings' labels among them."""
    for planned in plan.setups:
        setup = planned.setup
        more = (background_setting(setup), *(exposure_setting(one) for one in EXPOSURES))
        for light in ("", "flash", "lamp", "window"):
            content = page_content(
                planned,
                plan,
                paper="a4",
                discreet=light == "lamp",
                sitter="",
                light=light,
                daylight=own_light(kit, room, setup),
                more=more,
            )
            del content["paper"]
            yield from leaves(content)
        for drawn in (plan_drawing, side_drawing):
            yield from re.findall(r">([^<]+)</text>", drawn(setup, 84.0, 74.0).svg)


def leaves(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from leaves(inner)


@pytest.mark.parametrize("brief", BRIEFS)
def test_no_sentence_of_a_german_sheet_is_english(brief):
    with spoken("de"):
        texts = set(printed(searched(brief), **place_of(brief)))
    assert {text: left for text in texts if (left := english_left(text))} == {}


def test_a_plan_searched_in_english_is_printed_in_german(tmp_path):
    plan = searched("ears and nose")
    path = save_plan(tmp_path / "plan.json", plan)
    with spoken("de"):
        german = [set(printed(made)) for made in (plan, load_plan(path)[0])]
    assert german[0] == german[1]
    assert {text: left for text in german[0] if (left := english_left(text))} == {}


def test_a_groups_sheet_is_german_whatever_it_was_searched_in():
    told = tr(OF_ONE, who=NAMES[0], note=tr(NOTE_ONE_CATCHLIGHT))
    group = plan_for(3)
    setups = [
        replace(one, planned=tuple(replace(part, notes=(told,)) for part in one.planned))
        for one in group.setups
    ]
    group = replace(group, setups=tuple(setups), notes=(tr(NOTE_OPPOSED),))
    with spoken("de"):
        for discreet in (False, True):
            content = group_content(
                group, group.setups[0], paper="a4", discreet=discreet, light="flash"
            )
            del content["paper"]
            assert {text: left for text in leaves(content) if (left := english_left(text))} == {}


def test_no_sentence_is_told_while_set_ups_are_searched(monkeypatch):
    told, at_stage = [], {}
    tell = words._tell
    monkeypatch.setattr(words, "_tell", lambda *given: told.append(given) or tell(*given))
    searched("ears and nose", progress=lambda _, stage: at_stage.setdefault(stage, len(told)))
    assert at_stage[STAGES["leeway"]] == 0
    assert 0 < len(told) < 2000


def test_the_reader_for_english_finds_it():
    assert english_left("Let your shoulders go soft and low.")
    assert english_left("Ohren: in view, eigene linke Seite")
    assert not english_left("Lassen Sie die Schultern weich nach unten sinken.")
    with spoken("de"):
        assert english_left("the chin stays level")


@pytest.mark.parametrize("sign", [-1.0, 1.0])
@pytest.mark.parametrize("move", [*SITTER_MOVES, *STUDIO_MOVES])
def test_no_nudge_is_english(move, sign):
    with spoken("de"):
        told = [nudge_words(move, sign * amount) for amount in (0.3, 4.0, 8.0, 20.0, 40.0, 400.0)]
    assert not english_left(" ".join(told))
