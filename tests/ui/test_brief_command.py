"""``sitwell plan FILE``: everybody at once, with the sheets and a plan file for each."""

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from sitwell import flow
from sitwell.base.errors import UsageError
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.sitter import sitter_kept
from sitwell.search.planner import make_group_plan
from sitwell.sheet import set_sheet
from sitwell.sheet.plan_file import load_plan
from sitwell.ui.cli import app
from tests.search.conftest import StandInEvaluator

TYPED = """
height_difference = "soften"
[[sitter]]
name = "Mara"
frames = ["a.jpg"]
wishes = ["ears:soften:3"]
height_mm = 1780
[[sitter]]
name = "Ben / <x>"
frames = ["b.jpg"]
wishes = ["forehead"]
height_mm = 1650
"""


@pytest.fixture
def typed(tmp_path, monkeypatch):
    """A couple whose frames read as invented heads, planned with few looks."""
    path = tmp_path / "couple.toml"
    path.write_text(TYPED, encoding="utf-8")

    def read(brief):
        head = build_head({"ear_wing": 0.4} if brief.name == "Mara" else {"forehead_height": 0.4})
        return sitter_kept(head_as_dict(head, np.eye(3)), brief)

    monkeypatch.setattr(flow, "read_sitter", read)
    monkeypatch.setattr(set_sheet, "TOGETHER_PX", 60)
    names = StandInEvaluator().names
    monkeypatch.setattr(flow, "Evaluator", lambda head, glasses: StandInEvaluator())
    monkeypatch.setattr(
        flow,
        "make_group_plan",
        lambda *a, **k: make_group_plan(*a, **(k | {"evaluations": 60, "measure_names": names})),
    )
    monkeypatch.setenv("SITWELL_HOME", str(tmp_path / "home"))
    return path


def test_a_couple_is_planned_and_printed(typed, tmp_path):
    out = tmp_path / "out"
    done = CliRunner().invoke(app, ["plan", str(typed), "--out", str(out), "--discreet"])
    assert done.exit_code == 0, done.output
    assert "Mara, at camera" in done.output
    assert "noticeable steps" in done.output
    names = {path.name for path in out.iterdir()}
    last = json.loads((out / "group.json").read_text(encoding="utf-8"))["setups"][-1]["name"]
    assert {"group.json", "plan-1-Mara.json", "plan-2-Ben-x.json", f"{last}.pdf"} <= names
    assert f"{last}-moves-only.png" in names
    plan, kept = load_plan(out / "plan-1-Mara.json")
    assert kept is None
    assert plan.setups
    group = json.loads((out / "group.json").read_text(encoding="utf-8"))
    assert "measures" not in json.dumps(group)
    assert group["setups"][-1]["sitters"][0]["place"]["words"]


def test_json_tells_everybody_s_moves(typed):
    done = CliRunner().invoke(app, ["plan", str(typed), "--json"])
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["sitters"] == ["Mara", "Ben / <x>"]
    strong = told["setups"][-1]
    assert {"turn_deg", "key_azimuth_deg", "distance_mm"} <= set(strong["sitters"][1]["setup"])
    assert strong["sitters"][0]["gains"]
    assert strong["sitters"][0]["setup"]["focal_mm"] == strong["setup"]["focal_mm"]
    assert told["files"] == []


def test_a_couple_in_the_sun_is_told_how_to_stand(typed, tmp_path):
    pytest.importorskip("pvlib")
    out = tmp_path / "out"
    there = ["--room", "outdoors", "--sun-place", "48.1,11.6", "--sun-time", "2026-09-15T16:00Z"]
    done = CliRunner().invoke(app, ["plan", str(typed), *there, "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert "Key, place: the sun, " in done.output
    assert "Stand: shoot toward the " in done.output
    assert list(out.glob("*.pdf"))


@pytest.mark.parametrize("command", ["read", "plan"])
def test_two_faces_at_once_are_sent_to_a_brief(command, tmp_path):
    done = CliRunner().invoke(app, [command, str(tmp_path / "a.jpg"), "--face", "1", "--face", "2"])
    assert isinstance(done.exception, UsageError)
    assert str(done.exception).startswith("--face is given 2 times, but these frames are read for")
    assert str(done.exception).endswith("sitwell plan.")


def test_a_brief_says_itself_who_sits(typed):
    done = CliRunner().invoke(app, ["plan", str(typed), "--wish", "ears"])
    assert isinstance(done.exception, UsageError)
    assert str(done.exception) == (f"A brief says itself who sits; write wishes into '{typed}'.")


def test_what_is_asked_for_besides_goes_before_the_brief(typed):
    done = CliRunner().invoke(app, ["plan", str(typed), "--lock", "f_number=8", "--json"])
    assert done.exit_code == 0, done.output
    setups = json.loads(done.stdout)["setups"]
    assert {planned["setup"]["f_number"] for planned in setups} == {8.0}
