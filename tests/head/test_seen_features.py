"""What frames show is gathered over all of them, and what a photographer says goes first."""

import pytest

from sitwell.brief.marks import Mark
from sitwell.head.obscured import EAR_COVERED
from sitwell.head.seen_features import (
    marks_beside,
    notes_on_ears,
    notes_on_hairline,
    notes_on_things,
    with_covered_ears,
    without_denied,
)
from sitwell.head.seen_parts import Found, InTheWay


def at(name):
    return Mark(name=name, x_px=1.0, y_px=2.0)


EARS = Found(
    marks=(at("ear_top_own_left"), at("ear_outer_own_left")),
    clear_ears=frozenset({"own_left"}),
)
POINTS = (
    "nose_ridge",
    "nose_tip",
    "nose_base",
    "eye_inner_own_left",
    "mouth_corner_own_left",
    "hairline",
)
HAIRY = Found(covered_ears=frozenset({"own_left", "own_right"}))


def test_an_ear_that_another_frame_shows_is_not_taken_for_covered():
    first, second = with_covered_ears([EARS, HAIRY])
    assert first.things == set()
    assert second.covered_ears == {"own_right"}
    assert second.things == {EAR_COVERED["own_right"]}


def test_a_placed_mark_goes_before_one_that_was_found():
    beside = marks_beside([at("ear_top_own_left")], EARS, frozenset())
    assert [mark.name for mark in beside] == ["ear_outer_own_left"]


def test_what_is_told_to_be_in_the_way_takes_marks_away():
    assert marks_beside([], EARS, frozenset({"hair-over-ears"})) == ()
    assert marks_beside([], EARS, frozenset({"hat"})) == ()
    assert len(marks_beside([], EARS, frozenset({"beard"}))) == 2


@pytest.mark.parametrize(
    ("thing", "kept"),
    [
        ("glasses", {"nose_tip", "nose_base", "mouth_corner_own_left", "hairline"}),
        ("mask", {"eye_inner_own_left", "hairline"}),
        ("hand", {"eye_inner_own_left", "hairline"}),
        ("beard", {"nose_ridge", "nose_tip", "eye_inner_own_left", "hairline"}),
        ("hair-over-brows", {*POINTS} - {"hairline"}),
    ],
)
def test_what_lies_over_a_point_takes_its_mark_away(thing, kept):
    found = Found(marks=tuple(map(at, POINTS)))
    assert {mark.name for mark in marks_beside([], found, frozenset({thing}))} == kept


def test_a_placed_hairline_goes_before_one_that_was_found():
    found = Found(marks=(at("hairline"), at("nose_tip")))
    beside = marks_beside([at("hairline")], found, frozenset())
    assert [mark.name for mark in beside] == ["nose_tip"]


def test_a_hairline_is_asked_for_where_some_frame_may_show_it():
    asked = (
        "Where the hairline lies is clear in no frame; a mark on it would tell the forehead's "
        "height.",
    )
    nothing, hat = frozenset(), frozenset({"hat"})
    assert notes_on_hairline([[at("nose_tip")], []], [nothing, hat]) == asked
    assert notes_on_hairline([[], [at("hairline")]], [nothing, nothing]) == ()
    assert notes_on_hairline([[], []], [hat, frozenset({"hair-over-brows"})]) == ()


def test_what_is_seen_in_the_way_is_said_unless_it_was_told():
    found = Found(things=frozenset({"glasses", "hat"}), covered_ears=frozenset({"own_right"}))
    notes = notes_on_things("a.jpg", found, frozenset({"hat"}))
    assert notes == (
        "'a.jpg' shows a pair of glasses, and what lies under it is unknown; if that is wrong, "
        "deny it (--without glasses).",
        "Hair lies over the sitter's own right ear in 'a.jpg': how it stands out is unknown.",
    )
    assert notes_on_things("a.jpg", found, frozenset({"glasses", "hat", "hair-over-ears"})) == ()


def test_what_may_be_hair_is_asked_until_it_is_told_or_denied():
    found = Found(asked=frozenset({"hat"}))
    assert notes_on_things("a.jpg", found, frozenset()) == (
        "What lies on the head in 'a.jpg' is taken for hair; if it is a hat, say that a hat is in "
        "the way.",
    )
    assert notes_on_things("a.jpg", found, frozenset({"hat"})) == ()
    assert without_denied(found, frozenset({"hat"})).asked == set()


def test_marks_are_asked_for_on_ears_that_no_frame_shows():
    assert notes_on_ears([EARS], [], frozenset()) == (
        "The edge of the sitter's own right ear is clear in no frame; three marks on it would "
        "tell how far it stands out.",
    )
    assert notes_on_ears([EARS], [at("ear_outer_own_right")], frozenset()) == ()
    assert notes_on_ears([EARS, HAIRY], [], frozenset()) == ()
    assert notes_on_ears([Found()], [], frozenset({"hair-over-ears"})) == ()


def test_a_thing_that_is_denied_goes_alone():
    found = Found(
        things=frozenset({"glasses", "hat"}),
        covered_ears=frozenset({"own_left"}),
        seen=(InTheWay(thing="glasses", sure=0.9), InTheWay(thing="hat", sure=0.8)),
    )
    left = without_denied(found, frozenset({"hat"}))
    assert left.things == {"glasses"}
    assert [each.thing for each in left.seen] == ["glasses"]
    assert left.covered_ears == {"own_left"}
    assert without_denied(found, frozenset({"hair-over-ears"})).covered_ears == set()
