"""The sun's command as a photographer meets it."""

import json

import pytest
from typer.testing import CliRunner

from sitwell.base.errors import PlanFileError, ShootError, UsageError
from sitwell.scene.setup import Setup
from sitwell.sheet.plan_file import save_plan
from sitwell.ui.cli import app
from tests.sheet.samples import plan, planned

pytest.importorskip("pvlib")
THERE = ("sun", "--place", "48.1,11.6", "--day", "2026-09-15", "--zone", "Europe/Berlin")


def run(*arguments):
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    soft = planned(Setup(key_azimuth_deg=-50, key_elevation_deg=30), name="gentle")
    steep = planned(Setup(key_azimuth_deg=40, key_elevation_deg=60), name="strong")
    return save_plan(path, plan(soft, steep))


def test_a_day_without_a_plan():
    said = run(*THERE).stdout
    assert "Sunrise 06:51, sunset 19:26" in said
    assert "true north" in said
    assert "Never look at the sun" in said
    assert "shoot toward" not in said
    rows = [line for line in said.splitlines() if line[:3] in ("07:", "13:", "19:")]
    assert len(rows) == 3


def test_a_day_for_a_set_up_says_when_and_how_to_stand(plan_file):
    said = run(*THERE, "--plan", plan_file, "--setup", "gentle").stdout
    assert "wants its key 30° up, at camera left, 50° round" in said
    assert said.count("the sun is where the set-up wants it") == 2
    assert "as planned" in said
    assert "shoot toward" in said


def test_a_sun_that_stays_too_low_is_said(plan_file):
    said = run(*THERE, "--plan", plan_file, "--setup", "strong").stdout
    assert "never stands where the set-up wants it, 60° high; it climbs to 45°" in said


def test_json_is_whole_and_nothing_else(plan_file):
    content = json.loads(run(*THERE, "--plan", plan_file, "--setup", "2", "--json").stdout)
    assert content["setup"] == "strong"
    assert content["spells"] == []
    assert len(content["hours"]) == 13
    assert "never aim a long lens" in content["care"]


def test_a_southern_place_may_begin_with_a_minus():
    content = json.loads(run("sun", "--place", "-33.9,151.2", "--zone", "+10:00", "--json").stdout)
    assert content["place"]["latitude_deg"] == -33.9
    assert content["setup"] is None


def test_what_belongs_to_a_plan_asks_for_it():
    with pytest.raises(UsageError, match="belong to a plan; give its file with --plan"):
        run(*THERE, "--camera", 30)
    with pytest.raises(PlanFileError, match="can't be opened"):
        run(*THERE, "--plan", "missing.json")


def test_an_unknown_set_up_is_refused(plan_file):
    with pytest.raises(ShootError, match="no set-up 'bold'; choose one of gentle, strong"):
        run(*THERE, "--plan", plan_file, "--setup", "bold")


def test_a_bearing_off_the_compass_is_wrong_usage(plan_file):
    assert run(*THERE, "--plan", plan_file, "--camera", 400).exit_code == 2
