import math

import numpy as np
import pytest

from sitwell.search.guards import Guard, Guards, make_guards
from sitwell.search.sentences import GUARD_SENTENCES

BASE = {
    "nose_break": 0.04,
    "nostril_show": 0.002,
    "ear_sliver": 0.0,
    "near_far_stretch": 1.07,
    "eye_balance": 0.95,
    "white_below": 0.002,
}


def guard(name):
    return next(g for g in make_guards(BASE) if g.name == name)


def test_every_guard_has_its_sentence_and_its_own_name():
    names = [g.name for g in make_guards(BASE)]
    assert len(set(names)) == len(names)
    assert set(names) == set(GUARD_SENTENCES)


def test_a_nose_inside_the_outline_straight_on_must_stay_inside():
    assert guard("nose line").limit == 0.0


def test_a_face_is_taken_as_it_is():
    """What is past a limit straight on may stay there, but not go further."""
    own = {**BASE, "nose_break": -0.01, "eye_balance": 0.6, "near_far_stretch": 1.25}
    limits = {g.name: g.limit for g in make_guards(own)}
    assert limits["nose line"] == -0.01
    assert limits["eyes even"] == pytest.approx(0.55)
    assert limits["stretch"] == 1.25


def test_nostrils_may_not_open_by_more_than_two_fifths():
    assert guard("nostrils").limit == pytest.approx(1.4 * 0.002 + 0.0002)


def test_violations_are_positive_where_broken_and_never_from_what_is_unknown():
    rows = [
        Guard(name="nose line", measure="a", limit=0.0, must_be="at least", scale=0.1),
        Guard(name="nostrils", measure="b", limit=1.0, must_be="at most", scale=0.5),
        Guard(name="crop", measure="c", limit=0.0, must_be="at least", scale=1.0),
    ]
    guards = Guards(rows, ("a", "b", "c"))
    past = guards.violations(np.array([-0.05, 2.0, math.nan]))
    assert past.tolist() == pytest.approx([0.5, 2.0, -1.0])
    assert [g.name for g in guards.broken(np.array([0.0, 1.0, math.inf]))] == []
    states = guards.states(np.array([-0.05, 1.0, math.nan]))
    assert [(s.name, s.holds) for s in states] == [("nose line", False), ("nostrils", True)]
