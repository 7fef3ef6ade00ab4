"""The command line in German: what it prints, and what programs read all the same."""

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from sitwell import flow
from sitwell.base.words import language, spoken
from sitwell.brief.request import brief_of
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.sitter import sitter_kept
from sitwell.search.group import GroupPlan
from sitwell.sheet.plan_file import load_plan, save_plan
from sitwell.ui import show
from sitwell.ui.cli import app
from tests.sheet.english import english_left
from tests.sheet.test_german import searched

SETUPS = {"gentle": "Sanfter Aufbau", "balanced": "Ausgewogener Aufbau"}


def test_every_command_speaks_the_language_asked_for():
    for command in app.registered_commands:
        help_text = CliRunner().invoke(app, [command.name or command.callback.__name__, "--help"])
        assert "--language" in help_text.stdout


def test_a_language_that_is_not_spoken_is_refused():
    result = CliRunner().invoke(app, ["sitters", "--language", "xx"])
    assert result.exit_code == 2
    assert "'xx' is not spoken here; choose one of en, de." in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("arguments", "environment", "words"),
    [
        (["--language", "de"], {}, "Nie in die Sonne sehen"),
        ([], {"SITWELL_LANGUAGE": "de_DE.UTF-8"}, "Nie in die Sonne sehen"),
        (["--language", "en"], {"SITWELL_LANGUAGE": "de"}, "Never look at the sun"),
        ([], {"SITWELL_LANGUAGE": "xx"}, "Never look at the sun"),
    ],
)
def test_the_option_beats_the_environment(arguments, environment, words):
    sun = ["sun", "--place", "51.5,0", "--day", "2026-06-21", "--zone", "+00:00"]
    result = CliRunner().invoke(app, [*sun, *arguments], env=environment)
    assert words in " ".join(result.output.split()), result.output
    assert language() == "en"


def sitting_plan(plan):
    brief = brief_of({"sitter": [{}]})
    sitter = sitter_kept(head_as_dict(build_head({}), np.eye(3)))
    return flow.SittingPlan(
        brief=brief,
        sitters=(sitter,),
        kit=flow.kit_of(brief),
        room=flow.room_of(brief),
        found=GroupPlan.of_one(plan),
    )


def test_a_plan_is_shown_in_german_and_its_keys_stay(capsys):
    plan = searched("ears and nose")
    with spoken("de"):
        show.plan(sitting_plan(plan), [], as_json=False)
    shown = capsys.readouterr().out
    assert SETUPS[plan.setups[0].name] in shown
    assert not english_left(shown)
    with spoken("de"):
        show.plan(sitting_plan(plan), [], as_json=True)
    content = json.loads(capsys.readouterr().out)
    assert [one["name"] for one in content["setups"]] == [one.name for one in plan.setups]
    assert {"turn_deg", "key_azimuth_deg"} <= set(content["setups"][0]["setup"])
    assert not english_left(" ".join(word["sentence"] for word in content["setups"][0]["words"]))


def test_a_kept_plan_is_shown_in_the_language_of_the_day(tmp_path, capsys):
    path = save_plan(tmp_path / "plan.json", searched("ears and nose"))
    with spoken("de"):
        show.plan(sitting_plan(load_plan(path)[0]), [], as_json=False)
    assert not english_left(capsys.readouterr().out)
