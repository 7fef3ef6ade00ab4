"""What a head that is only known so well leaves open: ranges, shares, and stops that are sure."""

import dataclasses
from dataclasses import replace

import numpy as np
import pytest

from sitwell.brief.wishes import parse_wish
from sitwell.search import sentences as say
from sitwell.search.group_search_space import GroupSitter
from sitwell.search.plan import Leeway
from sitwell.search.planner import make_group_plan
from tests.search.conftest import StandInEvaluator

FEW = 500


class Nosy(StandInEvaluator):
    """A head whose nose lies nearer the cheek's outline than the fitted one's."""

    def __init__(self, by):
        self.by = by
        super().__init__()

    def _measures(self, s):
        m = super()._measures(s)
        m["nose_break"] -= self.by
        return m


def planned(heads, *wishes, **how):
    sitter = GroupSitter(
        label="",
        evaluator=StandInEvaluator(),
        wishes=tuple(parse_wish(wish) for wish in wishes),
        possible=lambda: heads,
        **how,
    )
    names = sitter.evaluator.names
    return make_group_plan([sitter], measure_names=names, evaluations=FEW).parts[0]


def test_what_a_wish_gets_is_told_as_a_range_on_the_possible_heads():
    bends = np.linspace(0.01, 0.03, 10)
    made = planned([StandInEvaluator(bend=bend) for bend in bends], "nose-bend")
    for one in made.setups:
        gain = next(gain for gain in one.gains if gain.measure == "nose_bend")
        becomes = [abs(bend + 0.0007 * one.setup.seen_pose_deg()[0]) for bend in bends]
        assert gain.likely == pytest.approx(tuple(np.quantile(becomes, (0.1, 0.9))))


def test_without_other_heads_nothing_is_said_of_them():
    made = planned([], "ears")
    assert all(gain.likely is None for one in made.setups for gain in one.gains)
    assert all(guard.held_by is None for one in made.setups for guard in one.guards)


def test_a_guard_holds_on_nine_in_ten_of_the_possible_heads():
    # The narrower, the farther it is turned, until the nose meets the cheek.
    alone = planned([], "face-width:narrower:3").setups[-1]
    nosy = [Nosy(0.03 * (i > 4)) for i in range(10)]
    made = planned(nosy, "face-width:narrower:3")
    clearance = nosy[-1].evaluate(alone.setup)[nosy[-1].names.index("nose_break")]
    assert clearance < 0  # so that there is something to heed
    for one in made.setups:
        assert all(guard.held_by >= 0.9 for guard in one.guards if guard.holds)
    assert abs(made.setups[-1].setup.turn_deg) < abs(alone.setup.turn_deg)


def test_where_nothing_is_sure_it_is_said():
    made = planned([Nosy(0.2 * (i > 4)) for i in range(10)], "ears:soften:3")
    shown = made.setups[-1]
    state = next(guard for guard in shown.guards if guard.name == "nose line")
    assert state.held_by == pytest.approx(0.5) or state.held_by == 1.0
    said = [note for note in shown.notes if "for a chance of" in note]
    assert bool(said) == (state.held_by < 0.9)


def test_a_wish_about_what_no_frame_shows_gets_a_question_and_no_number():
    made = planned([], "ears", "jaw", unseen=frozenset({"ears", "forehead"}))
    assert say.NOTE_UNSEEN["ears"] in made.notes
    assert say.NOTE_UNSEEN["forehead"] not in made.notes
    assert {gain.wish for one in made.setups for gain in one.gains} == {"jaw"}


def test_notes_of_the_reading_are_the_plan_s_as_well():
    assert "No ear was seen." in planned([], "jaw", notes=("No ear was seen.",)).notes


def test_a_leeway_over_the_whole_range_is_free_and_a_small_one_hard():
    row = Leeway(move="turn_deg", low=-50.0, high=50.0, low_why=say.END_OF_RANGE,
                 high_why=say.END_OF_RANGE)  # fmt: skip
    assert row.is_free
    assert not row.is_hard(49.0)
    near = replace(row, high=14.0, high_why=say.GUARD_SENTENCES["far ear"])
    assert not near.is_free
    assert near.is_hard(12.0)
    assert not near.is_hard(11.0)
    assert not near.is_hard(12.0, but=(say.GUARD_SENTENCES["far ear"],))
    assert dataclasses.asdict(near)["high"] == 14.0
