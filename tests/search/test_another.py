"""Another way: apart from the stops, only where it differs in kind and serves about as well.

On the stand-in head: what comes out of real ones is asked by ``benchmarks/plan_demands.py``.
"""

import pytest

from sitwell.brief.wishes import parse_wish
from sitwell.search import sentences as say
from sitwell.search.plan import ANOTHER
from sitwell.search.planner import make_plan

FEW = 500
AS_GOOD = 0.85


def another(made):
    return next((one for one in made.setups if one.name == ANOTHER), None)


@pytest.mark.parametrize("wish", ["forehead", "thinning-hair"])
def test_a_cut_into_the_forehead_is_a_way_of_its_own_and_asks_nothing_of_the_pose(plan, wish):
    made = plan(wish, evaluations=FEW)
    assert {one.setup.crop for one in made.stops} == {"whole-head"}
    cut = another(made)
    assert cut is not None
    assert cut.setup.crop == "into-forehead"
    assert abs(cut.setup.seen_pose_deg()[1]) < 2.0
    assert any("a cut into the forehead" in note for note in made.notes)
    gain = next(gain for gain in cut.gains if gain.measure == "forehead_in_picture")
    assert gain.becomes < 0.6 * gain.was
    assert all(g.measure != "forehead_in_picture" for one in made.stops for g in one.gains)


def test_a_cut_leaves_the_pose_to_the_other_wish(plan):
    made = plan("forehead", "face-width:narrower", evaluations=FEW)
    assert another(made).setup.crop == "into-forehead"
    assert abs(another(made).setup.turn_deg) >= 10.0


def test_an_even_face_is_offered_the_other_side_with_what_it_gives(stand_in):
    evaluator = stand_in(bend=0.0, uneven=0.0)
    made = make_plan(
        evaluator,
        [parse_wish("face-width:narrower")],
        evaluations=FEW,
        measure_names=evaluator.names,
    )
    strong, other = made.stops[-1], another(made)
    assert other is not None
    assert other.setup.turn_deg * strong.setup.turn_deg < 0.0
    given, asked = (
        next(gain.gain for gain in one.gains if gain.measure == "face_breadth")
        for one in (other, strong)
    )
    assert given >= AS_GOOD * asked
    assert all(guard.holds for guard in other.guards)
    assert any("Another way" in note and "toward your sitter" in note for note in made.notes)


def test_a_nose_that_leans_is_not_offered_the_other_side(plan):
    assert another(plan("nose-bend", evaluations=FEW)) is None


def test_nothing_hangs_on_a_side_and_none_is_offered(plan):
    assert another(plan("jaw", evaluations=FEW)) is None
    assert another(plan(evaluations=FEW)) is None


def test_another_way_is_last_and_is_no_stop(plan):
    made = plan("forehead", evaluations=FEW)
    assert made.setups[-1].name == ANOTHER
    assert ANOTHER not in [one.name for one in made.stops]
    assert say.STAGES["another"]


def test_a_lock_on_the_crop_leaves_no_other_cut(plan):
    made = plan("forehead", evaluations=FEW, locked={"crop": "whole-head"})
    assert another(made) is None or another(made).setup.crop == "whole-head"
