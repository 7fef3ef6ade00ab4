"""Two invented heads before one camera: planned together against planned for one of them alone.

What is compared is our own score on both sides; no number here is an outside value.
"""

from dataclasses import dataclass, replace

import pytest

from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import DEFAULT_KIT
from sitwell.brief.room import DEFAULT_ROOM
from sitwell.brief.wishes import HeightWish, parse_wish
from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator
from sitwell.search.find_setups import Search
from sitwell.search.group_search_space import GroupSitter, set_group_search_space
from sitwell.search.moves import POSE_MOVES
from sitwell.search.planner import make_group_plan, make_plan
from sitwell.search.starts import posed

FEW = 240


@dataclass(frozen=True)
class Score:
    """What a group's set-up does: each sitter's gain in all, and every guard that is broken."""

    gains: tuple[float, ...]
    broken: tuple[str, ...]


class Table:
    """Two sitters whose wishes pull the key to different sides, and how a set-up serves both."""

    def __init__(self):
        self.ann = GroupSitter(
            label="Ann",
            evaluator=Evaluator(build_head({"nose_lean": 0.6})),
            wishes=(parse_wish("nose-bend:soften:3"),),
        )
        self.ben = GroupSitter(
            label="Ben",
            evaluator=Evaluator(build_head({"nose_lean": -0.6})),
            wishes=(parse_wish("nose-bend:soften:3"), parse_wish("ears:soften:2")),
            comfort=Comfort(eyes_above_floor_mm=1460.0),
        )
        space = set_group_search_space(
            [self.ann, self.ben], DEFAULT_KIT, DEFAULT_ROOM, "head-and-shoulders", "4:5", {}
        )
        self.search = Search.begin(space, HeightWish(), 0, FEW, None, None)

    def score(self, setup, option):
        goal, space = self.search.goal, self.search.space
        outcome = space.vector(setup, space.options[option].choice)
        own, facts = space.parts(outcome)
        lost = [
            f"{sitter.label}: {guard.name}"
            for sitter, guards, vector in zip(space.sitters, goal.guards, own, strict=True)
            for guard in guards.broken(vector)
        ]
        lost += [guard.name for guard in goal.together.broken(facts)]
        return Score(tuple(goal.gains(outcome)[:2].tolist()), tuple(lost))

    def alone(self):
        """Ann's own plan, with Ben put beside her straight on: the row as it stands, her lens."""
        made = make_plan(self.ann.evaluator, self.ann.wishes, evaluations=FEW)
        strong, space = made.setups[-1].setup, self.search.space
        option = next(
            i
            for i, o in enumerate(space.options)
            if o.choice.focal_mm == strong.focal_mm and o.choice.light.size_mm == strong.key_size_mm
        )
        base = space.options[option]
        shared = strong.with_changes(**dict.fromkeys(POSE_MOVES, 0.0), distance_mm=base.distance_mm)
        pose = {name: getattr(strong, name) for name in POSE_MOVES}
        setup = replace(
            self.search.goal.baseline,
            shared=shared,
            places=base.places,
            poses=(pose, dict.fromkeys(POSE_MOVES, 0.0)),
            lying=base.lying,
        )
        return setup, option


@pytest.fixture(scope="module")
def table():
    return Table()


@pytest.fixture(scope="module")
def together(table):
    return make_group_plan([table.ann, table.ben], evaluations=FEW)


@pytest.fixture(scope="module")
def leaning(table):
    """Both with a wish for the nose alone: Ben's ears would have their say about the key."""
    ben = replace(table.ben, wishes=table.ben.wishes[:1])
    return make_group_plan([table.ann, ben], evaluations=2 * FEW)


def test_planned_together_serves_both_better_than_planned_for_one(table, together):
    alone, option = table.alone()
    one = table.score(alone, option)
    strong = together.setups[-1].setup
    focal = strong.shared.focal_mm
    at = next(
        i
        for i, o in enumerate(table.search.space.options)
        if o.choice.focal_mm == focal and o.choice.light.size_mm == strong.shared.key_size_mm
    )
    both = table.score(strong, at)
    assert both.broken == ()
    assert sum(both.gains) > sum(one.gains) + 1.0
    assert min(both.gains) > min(one.gains)
    # nor is it better to pose Ben afterwards, under the camera and key that were Ann's
    search, space = table.search, table.search.space
    placed = search.archive.at(option, space.place_of(option, alone))
    after = space.setup_at(option, posed(search.archive, search.goal, placed, evaluations=FEW).x)
    assert sum(both.gains) > sum(table.score(after, option).gains)


def test_every_guard_of_each_and_of_all_holds(together):
    for group in together.setups:
        assert [guard.name for guard in group.guards if not guard.holds] == []
        for part in group.planned:
            assert [guard.name for guard in part.guards if not guard.holds] == []


def test_noses_that_lean_opposite_ways_are_turned_opposite_ways(leaning):
    ann, ben = (part.setup for part in leaning.setups[-1].planned)
    # the trade: turn the face opposite to the lean; + leans and turns to the own left
    assert ann.turn_deg < 0 < ben.turn_deg


def test_who_turns_stands_so_that_they_turn_to_one_another(leaning):
    setup = leaning.setups[-1].setup
    ann, ben = setup.places
    # Ann turns to her own right, so she stands at camera right
    assert ann.x_mm > ben.x_mm
