"""Lids, mouth and breath: whose wish asks for them, and what they change on a head."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.brief.wishes import parse_wish
from sitwell.head.surface import build_head, with_expression
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import Setup
from sitwell.search.expressions import EXPRESSIONS, expression_notes, expressions_for
from sitwell.search.group_search_space import GroupSitter
from sitwell.sheet.words import sitter_words


def asked(*wishes):
    return [one.name for one in expressions_for([parse_wish(wish) for wish in wishes])]


@pytest.mark.parametrize(
    ("wishes", "names"),
    [
        (("lively-eyes",), ["lower-lids", "slow-breath"]),
        (("smile:soften",), ["half-smile"]),
        (("nose-width:soften",), ["mouth-at-rest"]),
        (("nose-width:bring-out",), []),
        (("nose-width:soften", "smile:fuller-own-left"), ["half-smile"]),
        (("ears", "jaw:soften"), []),
    ],
)
def test_each_is_asked_for_its_own_wish_and_the_mouth_for_one_thing(wishes, names):
    assert asked(*wishes) == names


def test_they_are_said_in_their_place_after_the_pose(plan):
    made = plan("lively-eyes", evaluations=300)
    planned = made.stops[-1]
    said = sitter_words(planned.setup, expressions=planned.expressions)
    parts = [word.part for word in said]
    assert parts[-3:] == ["eyes", "eyes", "breath"]
    assert "lower lids" in said[-2].sentence
    assert said[-1].show == "release as the breath goes"
    assert [w.part for w in sitter_words(planned.setup)].count("eyes") == 1


def test_a_head_tells_what_lids_and_a_smile_change_and_another_says_nothing():
    head = build_head({})
    measured = Evaluator(head)

    def expressive(sliders):
        moved = with_expression(head, sliders)
        return Evaluator(moved, like=measured)

    wishes = (parse_wish("lively-eyes"),)
    able = GroupSitter(label="", evaluator=measured, wishes=wishes, expressive=expressive)
    (told,) = expression_notes(able, NAMES, Setup(), expressions_for(wishes))
    share = int(told.split("about ")[1].split(" ")[0])
    assert 5 <= share <= 25
    scanned = GroupSitter(label="", evaluator=measured, wishes=wishes)
    assert expression_notes(scanned, NAMES, Setup(), expressions_for(wishes)) == ()


def test_lids_close_the_eyes_and_a_smile_widens_the_nose():
    head = build_head({})
    at_rest = dict(zip(NAMES, Evaluator(head).evaluate(Setup()), strict=True))
    for one in (one for one in EXPRESSIONS if one.sliders):
        moved = Evaluator(with_expression(head, one.sliders)).evaluate(Setup())
        becomes = dict(zip(NAMES, moved, strict=True))
        closes = one.name == "lower-lids"
        assert (becomes[one.measure] < at_rest[one.measure]) == closes


def test_an_expression_is_added_and_no_scan_is_given_one():
    head = build_head({"nose_lean": 0.4})
    assert_allclose(with_expression(head, {}).vertices_mm, head.vertices_mm, atol=1e-4)
    moved = with_expression(head, {"eye_squint_own_left": 0.5})
    assert np.abs(moved.vertices_mm - head.vertices_mm).max() > 0.5
    bent = dataclasses.replace(head, vertices_mm=head.vertices_mm * 1.05)
    assert with_expression(bent, {"eye_squint_own_left": 0.5}) is None
