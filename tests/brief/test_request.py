"""A brief as it is typed and saved: who, whose frames, whose wishes; a sentence for every slip."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from sitwell.base.errors import UsageError, WishError
from sitwell.brief.comfort import EYES_BELOW_CROWN_MM, SEATED_EYES_MM, STANDING_EYES_MM
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.request import (
    FORMAT,
    Brief,
    SitterBrief,
    brief_of,
    brief_words,
    changed,
    open_brief,
    save_brief,
)
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.wishes import HeightWish, Wish

TWO = """
height_difference = "soften:3"

[[sitter]]
name = "Mara"
frames = ["mara.jpg", "mara-2.jpg"]
wishes = ["ears:soften:3"]
limits = ["stiff-neck"]
height_mm = 1780
glasses = true
level = "mara.jpg"

[[sitter]]
name = "Ben"
scan = "ben.obj"
eyes_above_floor_mm = 1500
"""


def typed(tmp_path, text, name="couple.toml"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return open_brief(path)


def test_a_group_s_file_of_older_days_is_a_brief(tmp_path):
    brief = typed(tmp_path, TWO)
    assert brief.height_difference == HeightWish(direction="soften", weight=3)
    mara, ben = brief.sitters
    assert mara.frames == (tmp_path / "mara.jpg", tmp_path / "mara-2.jpg")
    assert mara.level == tmp_path / "mara.jpg"
    assert mara.glasses
    assert mara.wishes == (Wish(feature="ears", weight=3),)
    assert mara.comfort().turn_deg == (-20.0, 20.0)
    assert mara.comfort().eyes_above_floor_mm == 1780 - EYES_BELOW_CROWN_MM
    assert ben.scan == tmp_path / "ben.obj"
    assert ben.comfort().eyes_above_floor_mm == 1500


def test_what_is_left_out_is_usual(tmp_path):
    brief = typed(tmp_path, "[[sitter]]\nframes=['a.jpg']\n[[sitter]]\nframes=['b.jpg']\n")
    assert brief.labels == ("Sitter 1", "Sitter 2")
    assert brief.sitters[0].comfort().eyes_above_floor_mm == STANDING_EYES_MM
    assert brief.height_difference.direction == "leave"
    assert typed(tmp_path, "[[sitter]]\nframes=['a.jpg']\n").labels == ("",)


def test_a_height_is_a_standing_one():
    seated = SitterBrief(limits=("wheelchair",), height_mm=1700.0)
    assert seated.comfort().eyes_above_floor_mm == SEATED_EYES_MM
    measured = replace(seated, eyes_above_floor_mm=1100.0)
    assert measured.comfort().eyes_above_floor_mm == 1100.0


def whole(folder):
    """A brief in which nothing is left as usual."""
    mara = SitterBrief(
        name="Mara", frames=(folder / "a.jpg", folder / "b.jpg"), level=folder / "a.jpg", face=2,
        marks={"a.jpg": {"nose_tip": [10.0, 20.0]}}, focal_equivalent_mm=85.0, pupils_mm=61.5,
        in_the_way=("beard",), wishes=(Wish(feature="ears", weight=3),), limits=("seated",),
        height_mm=1700.0, eyes_above_floor_mm=1200.0, glasses=True, locks={"turn_deg": 10.0},
    )  # fmt: skip
    ben = SitterBrief(name="Ben", scan=folder / "b.obj", marks=folder / "marks.json")
    return Brief(
        sitters=(mara, ben, SitterBrief(record="Eva")),
        height_difference=HeightWish(direction="soften", weight=1),
        kit=KITS["three-flashes"], room=ROOMS["by-a-window"], sun_place="48.1,11.6",
        sun_time="15:00", framing="half-length", aspect="2:3",
        locks={"focal_mm": 85.0, "rim": "off"}, rim=True, language="de", paper="us-letter",
        discreet=True, plain_head=True,
    )  # fmt: skip


def test_a_brief_survives_the_file(tmp_path):
    brief = whole(tmp_path)
    assert open_brief(save_brief(tmp_path / "brief.json", brief)) == brief
    for room in ROOMS.values():
        one = replace(brief, room=room)
        assert open_brief(save_brief(tmp_path / "brief.json", one)) == one


def test_a_saved_brief_names_its_format_and_nothing_that_is_usual(tmp_path):
    brief = Brief(sitters=(SitterBrief(frames=(tmp_path / "a.jpg",)),))
    content = json.loads(save_brief(tmp_path / "brief.json", brief).read_text(encoding="utf-8"))
    assert content == {"format": FORMAT, "sitter": [{"frames": [str(tmp_path / "a.jpg")]}]}


def test_files_are_named_from_the_folder_of_the_brief(tmp_path):
    text = "kit='mine.toml'\nroom='studio'\n[[sitter]]\nframes=['a.jpg']\nmarks='m.json'\n"
    brief = typed(tmp_path, text)
    assert brief.kit == str(tmp_path / "mine.toml")
    assert brief.room == "studio"
    assert brief.sitters[0].files() == (tmp_path / "a.jpg", tmp_path / "m.json")


def test_other_words_go_before_those_of_the_brief(tmp_path):
    brief = whole(tmp_path)
    other = changed(brief, {"aspect": "1:1", "locks": {"focal_mm": 105.0}})
    assert other.aspect == "1:1"
    assert other.locks == {"focal_mm": 105.0, "rim": "off"}
    assert replace(other, aspect="2:3", locks=brief.locks) == brief


PAIR = "[[sitter]]\nframes=['a.jpg']\n{first}\n[[sitter]]\nframes=['b.jpg']\n{second}\n"


@pytest.mark.parametrize(
    ("second", "why"),
    [
        ("height_mm = 17", "height_mm is 17; give millimetres from 500 to 2500"),
        ("height_mm = 'tall'", "height_mm is 'tall'; give a number"),
        ("wishes = 'ears'", "wishes is 'ears'; give a list of words"),
        ("wishes = [3]", r"wishes is \[3\]; give a list of words"),
        ("limits = ['lazy']", "The sitter's limit 'lazy' is not known"),
        ("face = 0", "face is 0; give a whole number"),
        ("face = true", "face is True; give a whole number"),
        ("glasses = 'yes'", "glasses is 'yes'; write true or false"),
        ("level = 3", "level is 3; give a file’s name in quotes"),
        ("hat = 'red'", "'hat' is not a known key; use name, frames"),
    ],
)
def test_a_slip_is_named_with_its_place(tmp_path, second, why):
    with pytest.raises(UsageError, match=f"^brief couple.toml, sitter 2 'Ben': {why}"):
        typed(tmp_path, PAIR.format(first="", second=f"name = 'Ben'\n{second}"))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("[[sitter]]\n[[sitter]]\nname='A'\n[[sitter]]\nname='A'", "Two sitters are called 'A'"),
        ("height_difference = 'hide'\n[[sitter]]\n", "height_difference is 'hide'; write one of"),
        ("height_difference = 'soften:4'\n[[sitter]]\n", "height_difference is 'soften:4'"),
        ("format = 'sitwell brief 9'\n[[sitter]]\n", "The format 'sitwell brief 9' is not known"),
        ("kit = 3\n[[sitter]]\n", "kit is 3; give a name in quotes"),
        ("sitter = []", "Nobody sits"),
        ("aspect = '4:5'", "sitter is missing; add it"),
    ],
)
def test_a_slip_of_the_sitting_is_named(tmp_path, text, why):
    with pytest.raises(UsageError, match=f"^brief couple.toml: {why}"):
        typed(tmp_path, text)


def test_a_wish_that_is_none_is_named(tmp_path):
    with pytest.raises(WishError, match="'eyebrows' is not known"):
        typed(tmp_path, PAIR.format(first="wishes = ['eyebrows']", second=""))


@pytest.mark.parametrize("text", ["", "{", "[1]", "[" * 100_000])
def test_json_that_is_no_brief_is_refused(tmp_path, text):
    with pytest.raises(UsageError, match=r"brief\.json"):
        typed(tmp_path, text, "brief.json")


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(UsageError, match=r"none\.json can't be read"):
        open_brief(tmp_path / "none.json")


def test_the_page_s_example_is_read():
    page = Path(__file__).parents[2] / "docs" / "brief.md"
    text = page.read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]
    assert len(brief_of(tomllib.loads(text)).sitters) == 1


def test_plain_words_make_the_same_brief(tmp_path):
    brief = whole(tmp_path)
    assert brief_of(json.loads(json.dumps(brief_words(brief)))) == brief
