"""A group as it is typed: who, whose frames, whose wishes; and a sentence for every slip."""

import pytest

from sitwell.base.errors import UsageError, WishError
from sitwell.brief.comfort import STANDING_EYES_MM
from sitwell.brief.group import EYES_BELOW_CROWN_MM, read_group

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


def typed(tmp_path, text):
    path = tmp_path / "couple.toml"
    path.write_text(text, encoding="utf-8")
    return read_group(path)


def test_each_sitter_is_read(tmp_path):
    group = typed(tmp_path, TWO)
    assert (group.height_direction, group.height_weight) == ("soften", 3)
    mara, ben = group.sitters
    assert mara.frames == (tmp_path / "mara.jpg", tmp_path / "mara-2.jpg")
    assert mara.level == tmp_path / "mara.jpg"
    assert mara.glasses
    assert mara.comfort.turn_deg == (-20.0, 20.0)
    assert mara.comfort.eyes_above_floor_mm == 1780 - EYES_BELOW_CROWN_MM
    assert ben.scan == tmp_path / "ben.obj"
    assert ben.comfort.eyes_above_floor_mm == 1500


def test_what_is_left_out_is_usual(tmp_path):
    group = typed(tmp_path, "[[sitter]]\nframes=['a.jpg']\n[[sitter]]\nframes=['b.jpg']\n")
    assert [sitter.name for sitter in group.sitters] == ["Sitter 1", "Sitter 2"]
    assert group.sitters[0].comfort.eyes_above_floor_mm == STANDING_EYES_MM
    assert group.height_direction == "leave"


PAIR = "[[sitter]]\nframes=['a.jpg']\n{first}\n[[sitter]]\nframes=['b.jpg']\n{second}\n"


@pytest.mark.parametrize(
    ("first", "why"),
    [
        ("height_mm = 17", "height_mm is 17; give millimetres from 500 to 2500"),
        ("height_mm = 'tall'", "height_mm is 'tall'; give a number above 0"),
        ("wishes = 'ears'", "wishes is 'ears'; give a list of words"),
        ("wishes = [3]", r"wishes is \[3\]; give a list of words"),
        ("limits = ['lazy']", "The sitter's limit 'lazy' is not known"),
        ("face = 0", "face is 0; give a whole number"),
        ("face = true", "face is True; give a whole number"),
        ("glasses = 'yes'", "glasses is 'yes'; write true or false"),
        ("scan = 'a.obj'", "give frames = .* or a scan, one of the two"),
        ("hat = 'red'", "'hat' is not a known key"),
    ],
)
def test_a_slip_is_named_with_its_place(tmp_path, first, why):
    with pytest.raises(UsageError, match=why):
        typed(tmp_path, PAIR.format(first=first, second=""))


def test_a_wish_that_is_none_is_named(tmp_path):
    with pytest.raises(WishError, match="'eyebrows' is not known"):
        typed(tmp_path, PAIR.format(first="wishes = ['eyebrows']", second=""))


def test_one_alone_is_no_group(tmp_path):
    with pytest.raises(UsageError, match=r"has 1 \[\[sitter\]\]; write one for each, two at the"):
        typed(tmp_path, "[[sitter]]\nframes=['a.jpg']\n")


def test_two_of_one_name_are_told(tmp_path):
    with pytest.raises(UsageError, match="two sitters are called 'Mara'; tell them apart"):
        typed(tmp_path, PAIR.format(first="name='Mara'", second="name='Mara'"))


@pytest.mark.parametrize("value", ["hide", "soften:4", "soften:x"])
def test_a_height_wish_that_is_none_is_named(tmp_path, value):
    with pytest.raises(UsageError, match=f"height_difference is '{value}'; write one of soften"):
        typed(tmp_path, f"height_difference = '{value}'\n" + PAIR.format(first="", second=""))
