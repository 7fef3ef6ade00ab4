"""The sun's place and time on the page where the room is chosen."""

import json

import pytest
from nicegui import ui

from sitwell.brief.room import PRESETS
from sitwell.ui.web import brief
from sitwell.ui.web.paper import Sitting
from tests.ui.web.acting import fire, say_yes

pytest.importorskip("pvlib")
PLACE, TIME = "51.48,-0.01", "2026-10-03T15:00+01:00"


async def outdoors(user):
    """A fresh sitting's kit page with the room outdoors."""
    await user.open("/")
    user.find("Begin a sitting").click()
    await user.should_see("Before anything is measured")
    say_yes(user)
    await user.open(user.back_history[-1].replace("/talk", "/kit"))
    await user.should_not_see("Plan for this time")
    selects = [e for e in user.find(kind=ui.element).elements if e.tag == "select"]
    fire(max(selects, key=lambda element: element.id), "change", "outdoors")
    await user.should_see("Plan for this time")
    await user.should_not_see("Ceiling, m")


def type_in(user, **typed):
    hints = {"place": PLACE, "time": "2026-10-03T15:00"}
    for name, text in typed.items():
        found = user.find(kind=ui.element).elements
        fire(next(e for e in found if e.props.get("placeholder") == hints[name]), "change", text)


def test_a_time_is_planned_for_and_the_place_is_kept_nowhere(visit, papers):
    async def plan(user):
        await outdoors(user)
        type_in(user, place=PLACE, time=TIME)
        user.find("Plan for this time").click()
        # by hand: declination -4.0, hour angle 32.7 (14:00 UTC, equation of time 11 min), so
        # sin h = sin 51.48 sin -4 + cos 51.48 cos -4 cos 32.7 = 0.468
        await user.should_see("Planned for 2026-10-03 15:00+01:00: the sun 28° up, in the ")
        await user.should_see("Never look at the sun")

    visit(plan)
    (path,) = papers.glob("*/sitting.json")
    text = path.read_text(encoding="utf-8")
    daylight = json.loads(text)["own_room"]["daylight"]
    assert daylight["when"] == "2026-10-03 15:00+01:00"
    assert "51.48" not in text


def test_the_plan_may_choose_the_sun_s_height_again(visit, paper):
    async def plan(user):
        await outdoors(user)
        type_in(user, place=PLACE, time=TIME)
        user.find("Plan for this time").click()
        await user.should_see("Let the plan choose the sun’s height")
        user.find("Let the plan choose the sun’s height").click()
        await user.should_not_see("Planned for")

    visit(plan)
    kept = paper()
    assert (
        brief.room_of(Sitting(id="x", room=kept["room"], own_room=kept["own_room"]))
        == (PRESETS["outdoors"])
    )


def test_the_day_is_told_without_a_change_to_the_plan(visit, paper):
    async def tell(user):
        await outdoors(user)
        type_in(user, place=PLACE, time=TIME)
        user.find("Show the sun’s day").click()
        await user.should_see("Sunrise 07:0")
        await user.should_see("true north")

    visit(tell)
    assert paper()["own_room"] == {}


def test_slips_are_told_in_the_command_line_s_words(visit):
    async def slip(user):
        await outdoors(user)
        user.find("Plan for this time").click()
        await user.should_see("The place '' can't be read; write degrees north and east")
        type_in(user, place=PLACE, time="three")
        user.find("Show the sun’s day").click()
        await user.should_see("The time 'three' can't be read; write day and time")
        type_in(user, place="99,0", time=TIME)
        user.find("Show the sun’s day").click()
        await user.should_see("The latitude 99 is no place on earth")
        type_in(user, place=PLACE, time="2026-12-21T20:00+00:00")
        user.find("Plan for this time").click()
        await user.should_see("the sun is not up there (-3")

    visit(slip)
