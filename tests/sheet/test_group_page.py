"""The group's sheet: everybody's own moves by name and in their place, on one page."""

import dataclasses
import re

import numpy as np
import pytest

from sitwell.base.errors import SheetError
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupPlan, GroupSetup, Place, PlannedGroup
from sitwell.search.group_words import GROUP_GUARD_SENTENCES
from sitwell.search.moves import POSE_MOVES
from sitwell.search.plan import Gain, GuardState, Leeway, Plan, PlannedSetup
from sitwell.sheet.group_drawing import group_drawing
from sitwell.sheet.group_page import group_content, write_group_sheet
from sitwell.sheet.group_words import GROUP_GUARDS, group_guard_words, place_words

from .test_place_light import SUN

STILL = dict.fromkeys(POSE_MOVES, 0.0)
PICTURE = np.full((60, 100, 3), 120, dtype=np.uint8)
NAMES = ("Mara", "Ben", "Ida", "Tom")


def planned(setup, wish):
    return PlannedSetup(
        name="strong",
        setup=setup,
        measures={},
        gains=(Gain(wish=wish, measure="ear_out_own_left", was=0.1, becomes=0.0, gain=3.5),),
        guards=(),
        leeway=(),
        reasons=(),
        notes=("Only one eye carries a catchlight.",),
    )


def plan_for(count):
    xs = [200.0 * (2 * i - count + 1) for i in range(count)]
    setup = GroupSetup(
        shared=Setup(distance_mm=2800.0, key_azimuth_deg=-30.0, key_elevation_deg=30.0),
        places=tuple(
            Place(x_mm=x, y_mm=0.0, z_mm=0.0, forward_mm=150.0 * (i == 0), box_mm=100.0 * (i == 1))
            for i, x in enumerate(reversed(xs))  # the first named stands at camera right
        ),
        poses=tuple({**STILL, "turn_deg": 20.0 * (-1) ** i} for i in range(count)),
        lying=True,
    )
    owns = [setup.own(i) for i in range(count)]
    wishes = ("ears", "jaw", "nose-length", "skin")
    group = PlannedGroup(
        name="strong",
        setup=setup,
        planned=tuple(planned(own, wish) for own, wish in zip(owns, wishes, strict=False)),
        guards=tuple(
            GuardState(
                name=name, measure="x", value=1.0, limit=0.0, must_be="at least", holds=i > 0
            )
            for i, name in enumerate(GROUP_GUARDS)
        ),
        leeway=(Leeway(move="key_azimuth_deg", low=-40.0, high=-20.0, low_why="", high_why=""),),
        height_step=0.21,
    )
    parts = tuple(Plan(baseline=own, baseline_measures={}, setups=(), conflicts=()) for own in owns)
    return GroupPlan(
        labels=NAMES[:count],
        baseline=setup,
        baseline_height_step=0.8,
        setups=(group,),
        parts=parts,
        notes=("A note on the whole.",),
    )


def content(count=2, **how):
    made = plan_for(count)
    how = {"paper": "a4", "discreet": False, "light": "flash"} | how
    return group_content(made, made.setups[0], **how)


def test_each_has_a_column_under_their_name_from_camera_left():
    people = content()["people"]
    assert [one["name"] for one in people] == ["Ben", "Mara"]
    mara = people[1]
    assert mara["place"] == "at camera right, 15 cm (6 in) nearer to the lens"
    sentences = " ".join(word["sentence"] for word in mara["words"])
    assert "mark on your left" in sentences
    ben = " ".join(word["sentence"] for word in people[0]["words"])
    assert "mark on your right" in ben
    assert people[0]["place"] == "at camera left, on a box 10 cm (4 in) high"


def test_what_is_everybody_s_is_set_once():
    rows = {row["name"]: row["value"] for row in content()["settings"]}
    assert rows["Key, place"] == "camera left, 30° round"
    assert rows["Distance"].startswith("2.80 m")


def test_guards_that_break_are_told_first_and_heights_are_told():
    fine = {part["heading"]: part["entries"] for part in content()["fine"]}
    assert fine["What does not hold"][0].endswith("everybody’s eyes sharp")
    told = " ".join(fine["Good to know"])
    assert "0.2 of a face apart in height; 0.8 in a plain row" in told
    assert "A note on the whole." in told
    assert fine["Care"]


def test_a_discreet_sheet_tells_no_wish_guard_or_note():
    made = content(discreet=True)
    assert made["title"] == "Set-up 1, together"
    assert [part["heading"] for part in made["fine"]] == ["Care"]
    assert all(one["gains"] == [] for one in made["people"])


def test_places_of_three_and_four():
    three = plan_for(3).setups[0].setup
    assert place_words(three, 1).startswith("in the middle")
    four = plan_for(4).setups[0].setup
    assert place_words(four, 2) == "number 2 from camera left"


def test_every_guard_of_a_group_has_its_words():
    assert set(GROUP_GUARDS) == set(GROUP_GUARD_SENTENCES)
    assert all(group_guard_words(name) for name in GROUP_GUARDS)


@pytest.mark.parametrize("count", [2, 4])
@pytest.mark.parametrize("suffix", [".pdf", ".png"])
def test_the_sheet_is_one_page(tmp_path, count, suffix):
    made = plan_for(count)
    path = write_group_sheet(made, made.setups[0], PICTURE, tmp_path / f"sheet{suffix}")
    body = path.read_bytes()
    assert body.startswith(b"%PDF" if suffix == ".pdf" else b"\x89PNG")
    if suffix == ".pdf":
        assert len(re.findall(rb"/Type\s*/Page\b", body)) <= 1


def test_what_was_typed_is_never_a_command(tmp_path):
    made = dataclasses.replace(plan_for(2), labels=('#panic("x")', "$ *Ben* @a"))
    write_group_sheet(made, made.setups[0], PICTURE, tmp_path / "sheet.pdf")


def test_a_kind_or_paper_that_can_t_be_is_refused(tmp_path):
    made = plan_for(2)
    with pytest.raises(SheetError, match=r"can't be a '\.doc' file"):
        write_group_sheet(made, made.setups[0], PICTURE, tmp_path / "sheet.doc")
    with pytest.raises(SheetError, match="The paper 'a9' is not known"):
        write_group_sheet(made, made.setups[0], PICTURE, tmp_path / "sheet.pdf", paper="a9")
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(SheetError, match="can't be written"):
        write_group_sheet(made, made.setups[0], PICTURE, blocked / "sheet.pdf")


def test_the_plan_drawing_names_everybody_and_escapes_names():
    made = plan_for(2)
    svg = group_drawing(made.setups[0].setup, ("Mara", "<Ben>"), 84.0, 74.0)
    assert "Mara" in svg
    assert "&lt;Ben&gt;" in svg
    assert "<Ben>" not in svg


def test_under_the_sun_the_sheet_says_how_to_stand():
    plan = plan_for(3)
    (group,) = plan.setups
    content = group_content(plan, group, paper="a4", discreet=False, light="sun", daylight=SUN)
    rows = {row["name"]: row["value"] for row in content["settings"]}
    assert rows["Key, place"] == "the sun, at camera left, 30° round"
    assert rows["Stand"].startswith("shoot toward the")
    assert "Key, distance" not in rows
    drawing = group_drawing(group.setup, plan.labels, 84, 74, SUN)
    assert {">sun<", ">N<"} <= set(re.findall(r">[^<>]+<", drawing))


def test_lamps_behind_everybody_are_drawn_and_named():
    group = plan_for(2).setups[0].setup
    bare = group_drawing(group, ["A", "B"], 84.0, 74.0)
    on = {"rim": "on", "background_light": "on"}
    lit = dataclasses.replace(group, shared=group.shared.with_changes(**on))
    drawn = group_drawing(lit, ["A", "B"], 84.0, 74.0)
    for name in ("rim light", "background light"):
        assert name in drawn
        assert name not in bare
