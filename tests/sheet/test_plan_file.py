"""A plan survives the file, and a file that is none is refused in one sentence."""

import dataclasses
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.base.errors import PlanFileError
from sitwell.base.words import number, spoken, tr
from sitwell.scene.setup import Setup
from sitwell.search import sentences
from sitwell.search.plan import Conflict, Gain, GuardState, Leeway, Plan, PlannedSetup, Reason
from sitwell.sheet.plan_file import load_plan, plan_as_dict, save_plan

numbers = st.floats(-1e6, 1e6)


def a_plan(turn_deg: float = 12.0, value: float = 0.31) -> Plan:
    setup = Setup(turn_deg=turn_deg, focal_mm=85.0)
    planned = PlannedSetup(
        name="gentle",
        setup=setup,
        measures={"ear_sliver": value, "glare_own_left_deg": math.nan},
        gains=(Gain(wish="ears", measure="ear_sliver", was=0.9, becomes=value, gain=1.5),),
        guards=(
            GuardState(
                name="nose line",
                measure="nose_break",
                value=0.02,
                limit=0.0,
                must_be="at least",
                holds=True,
            ),
        ),
        leeway=(Leeway(move="turn_deg", low=9, high=15, low_why="gain", high_why="nose line"),),
        reasons=(
            Reason(
                move="turn_deg", from_value=0, to_value=turn_deg, contribution=1.2, sentence="So."
            ),
        ),
    )
    return Plan(
        baseline=Setup(),
        baseline_measures={"ear_sliver": 0.9},
        setups=(planned,),
        conflicts=(Conflict(first="ears", second="nose-length", move="turn_deg", sentence="It."),),
        notes=("One.",),
    )


@given(st.floats(-50, 50), numbers)
def test_a_plan_survives_the_file(tmp_path_factory, turn_deg, value):
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    plan = a_plan(turn_deg, value)
    save_plan(path, plan, {"shape": {"nose-lean": 0.2}})
    loaded, head = load_plan(path)
    assert head == {"shape": {"nose-lean": 0.2}}
    assert math.isnan(loaded.setups[0].measures["glare_own_left_deg"])
    assert plan_as_dict(loaded) == plan_as_dict(plan)
    assert loaded.setups[0].setup == plan.setups[0].setup


def test_the_words_for_the_sitter_stand_beside_each_setup():
    words = plan_as_dict(a_plan(turn_deg=20.0))["setups"][0]["words"]
    assert any("your left" in word["sentence"] for word in words)


def test_nothing_of_the_face_is_written_unless_given(tmp_path):
    path = save_plan(tmp_path / "plan.json", a_plan())
    assert "head" not in json.loads(path.read_text())
    assert load_plan(path)[1] is None


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{", "is not JSON; give the plan.json that sitwell plan wrote"),
        ("[" * 100_000, "is not JSON; give the plan.json that sitwell plan wrote"),
        ("9" * 5000, "is not JSON; give the plan.json that sitwell plan wrote"),
        ("[]", "is not a plan of this version; make one with"),
        ('{"format": "other"}', "is not a plan of this version; make one with"),
        ('{"format": "sitwell plan 1"}', "is damaged near 'baseline'; make it again"),
    ],
)
def test_a_file_that_is_no_plan_is_refused(tmp_path, text, message):
    path = tmp_path / "plan.json"
    path.write_text(text)
    with pytest.raises(PlanFileError, match=message):
        load_plan(path)


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("f_number", 0, "f_number is 0; give a value above zero"),
        ("turn_deg", 999, "turn_deg is 999; give a number from -90 to 90"),
        ("turn_deg", math.nan, "turn_deg is nan; give a number from -90 to 90"),
        ("key_azimuth_deg", None, "key_azimuth_deg is nan; give a number from -180 to 180"),
        ("distance_mm", math.inf, "distance_mm is inf; give a number from 200"),
        ("crop", "round", "The crop 'round' is not known; choose one of"),
    ],
)
def test_a_set_up_that_can_t_be_is_refused(tmp_path, name, value, says):
    content = plan_as_dict(a_plan())
    for setup in (content["setups"][0]["setup"], content["baseline"]["setup"]):
        changed = setup | {name: value}
        content["setups"][0]["setup"] = changed
        (tmp_path / "plan.json").write_text(json.dumps(content))
        with pytest.raises(PlanFileError, match=f"plan.json' holds a set-up that can't be: {says}"):
            load_plan(tmp_path / "plan.json")


@pytest.mark.parametrize("nothing", [[], "", 3, None])
def test_a_set_up_that_is_none_is_refused(tmp_path, nothing):
    content = plan_as_dict(a_plan())
    content["setups"][0]["setup"] = nothing
    (tmp_path / "plan.json").write_text(json.dumps(content))
    with pytest.raises(PlanFileError, match="is damaged near"):
        load_plan(tmp_path / "plan.json")


def test_a_byte_order_mark_is_read(tmp_path):
    path = save_plan(tmp_path / "plan.json", a_plan())
    path.write_text(path.read_text(encoding="utf-8"), encoding="utf-8-sig")
    assert load_plan(path)[0].setups[0].name == "gentle"


def test_a_plan_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(PlanFileError, match=r"can't be opened .*; check its name and place"):
        load_plan(tmp_path / "none.json")


def with_sentences():
    plan = a_plan()
    sentence = tr("With {value} stops.", value=number(1.5))
    conflict = Conflict(first="ears", second="jaw", move="turn_deg", sentence=sentence)
    note = tr(sentences.NOTE_SMALL_LOSS, feature=tr(sentences.FEATURE_WORDS["ears"]))
    return dataclasses.replace(plan, conflicts=(conflict,), notes=(note, "By hand."))


def test_a_plan_of_one_language_is_read_in_another(tmp_path):
    path = save_plan(tmp_path / "plan.json", with_sentences())
    assert load_plan(path)[0].notes == with_sentences().notes
    with spoken("de"):
        german, _ = load_plan(path)
        assert german.notes == (
            "Dieser Aufbau geht etwas gegen die Ohren, den anderen Wünschen zuliebe.",
            "By hand.",
        )
        assert german.conflicts[0].sentence == "With 1,5 stops."
        save_plan(path, german)
    assert load_plan(path)[0].notes == with_sentences().notes


@pytest.mark.parametrize(
    "made",
    [
        {"gaps": {}},
        {"message": "{a}", "gaps": 3},
        {"message": "{a}", "gaps": {"a": {"number": "x", "digits": 1, "whole": False}}},
        {"message": "{a}", "many": "{a}s", "gaps": {}},
    ],
)
def test_a_damaged_sentence_is_refused(tmp_path, made):
    path = save_plan(tmp_path / "plan.json", with_sentences())
    content = json.loads(path.read_text(encoding="utf-8"))
    content["sentences"] = dict.fromkeys(content["sentences"], made)
    path.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(PlanFileError, match="is damaged near"):
        load_plan(path)


def test_a_sentence_from_a_file_reaches_nothing_but_its_own_gaps(tmp_path):
    path = save_plan(tmp_path / "plan.json", with_sentences())
    content = json.loads(path.read_text(encoding="utf-8"))
    sly = {"message": "{a.__class__} {a:>9999999999} {a}", "gaps": {"a": "b"}}
    content["sentences"] = dict.fromkeys(content["sentences"], sly)
    path.write_text(json.dumps(content), encoding="utf-8")
    assert load_plan(path)[0].notes[0] == "{a.__class__} {a:>9999999999} b"
