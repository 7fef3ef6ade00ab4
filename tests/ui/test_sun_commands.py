"""The sun's command as a photographer meets it."""

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from typer.testing import CliRunner

from sitwell import flow
from sitwell.base.errors import PlaceError, PlanFileError, RoomError, ShootError, UsageError
from sitwell.brief.request import brief_of
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import sitter_kept
from sitwell.scene.sun import sun_at
from sitwell.scene.sun_typed import parse_place, parse_time
from sitwell.search.planner import make_group_plan
from sitwell.sheet import set_sheet
from sitwell.sheet.plan_file import load_plan, save_plan
from sitwell.ui.cli import app
from tests.search.conftest import StandInEvaluator
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


def test_today_it_says_how_to_stand_now(plan_file):
    zone = ("--zone", "UTC", "--plan", plan_file, "--setup", "gentle")
    said = run("sun", "--place", "48.1,11.6", *zone).stdout
    there = sun_at(parse_place("48.1,11.6"), datetime.now(UTC))
    assert ("Now the camera stands to the" in said) == (there.elevation_deg > 0)
    assert ("The sun is not up now." in said) == (there.elevation_deg <= 0)
    another = run("sun", "--place", "48.1,11.6", "--day", "2026-01-01", *zone).stdout
    assert "Now the camera" not in another
    assert "not up now" not in another


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


@pytest.fixture
def invented(monkeypatch, tmp_path):
    """A sitter whose frames read as an invented head, planned with few looks on a stand-in."""
    head = build_head({"ear_wing": 0.4})
    sitter = sitter_kept(head_as_dict(head, np.eye(3)))
    names = StandInEvaluator().names
    monkeypatch.setenv("SITWELL_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(flow, "read_sitter", lambda _: sitter)
    monkeypatch.setattr(set_sheet, "PICTURE_PX", 60)
    monkeypatch.setattr(flow, "Evaluator", lambda *_: StandInEvaluator())
    monkeypatch.setattr(
        flow,
        "make_group_plan",
        lambda *a, **k: make_group_plan(*a, **(k | {"evaluations": 80, "measure_names": names})),
    )
    return ("plan", "a.jpg", "--wish", "ears", "--out", str(tmp_path / "out"))


IN_THE_SUN = ("--sun-place", "48.1,11.6", "--sun-time", "2026-09-15T16:00+02:00")


def test_a_plan_in_the_sun_holds_its_height_and_says_how_to_stand(invented, tmp_path):
    said = run(*invented, "--room", "outdoors", *IN_THE_SUN).stdout
    assert "Key, place: the sun, at camera" in said
    assert "32° up; small and hard" in said
    assert "Stand: shoot toward the" in said
    assert "Time: 2026-09-15 16:00+02:00" in said
    assert "Key, distance" not in said
    made, _ = load_plan(tmp_path / "out" / "plan.json")
    there = sun_at(parse_place("48.1,11.6"), parse_time("2026-09-15T16:00+02:00"))
    for one in made.setups:
        assert one.setup.key_elevation_deg == pytest.approx(there.elevation_deg)
    assert (tmp_path / "out" / f"{made.setups[-1].name}.pdf").is_file()
    # and the day's command finds the hour again
    later = run(*THERE, "--plan", tmp_path / "out" / "plan.json", "--json").stdout
    assert any(spell["best"]["time"][11:16] in ("15:59", "16:00", "16:01")
               for spell in json.loads(later)["spells"])  # fmt: skip


def test_a_plan_as_json_tells_the_light_that_stays(invented):
    content = json.loads(run(*invented, "--room", "open-shade", "--json").stdout)
    assert [light["light"] for light in content["daylight"]] == ["shade"] * len(content["setups"])
    assert content["daylight"][0]["camera_bearing_deg"] is None
    assert "daylight" not in json.loads(run(*invented, "--json").stdout)


def test_sunny_options_that_cant_be(invented):
    with pytest.raises(UsageError, match="--sun-time needs a place; give its degrees"):
        run(*invented, "--room", "outdoors", "--sun-time", "15:00")
    with pytest.raises(RoomError, match="'studio' is not lit by the sun; give --room outdoors"):
        run(*invented, *IN_THE_SUN)
    with pytest.raises(PlaceError, match="the sun is not up there"):
        run(*invented, "--room", "outdoors", *IN_THE_SUN[:3], "2026-09-15T23:00+02:00")


def test_without_a_time_it_is_now(monkeypatch):
    asked = {}
    monkeypatch.setattr(flow, "room_in_sun", lambda room, place, when: asked.update(when=when))
    flow.room_of(brief_of({"sitter": [{}], "room": "outdoors", "sun_place": "48.1,11.6"}))
    assert abs((datetime.now(UTC) - asked["when"]).total_seconds()) < 60
