"""Three ways to a set-up on the same briefs: our plan, a beginner's habit, and chance.

    python -m benchmarks.rival_plans [--heads N] [--only BRIEF]

A beginner turns everybody by 45 degrees to one side and puts the key 45 degrees round and up;
chance looks at as many set-ups as the plan did, over all lenses and lights, and keeps the best that
it saw by the plan's own score. Told for each: what is gained for the wishes, what is asked for it
in natural steps, how many set-ups break a guard, and, where ears are wished softer, how much they
stand out, straight on being 1. Gains and guards are our own measures of all three, so this tells
what the search is worth, not whether its aims are right: ``benchmarks/quality_plans.py`` asks that.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from benchmarks.plan_demands import BRIEFS, HEADS
from sitwell.brief.kit import DEFAULT_KIT
from sitwell.brief.room import DEFAULT_ROOM
from sitwell.brief.wishes import HeightWish, parse_wish
from sitwell.head.surface import Head, build_head
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import Evaluator
from sitwell.search.find_setups import Search
from sitwell.search.goals import effort
from sitwell.search.group import GroupSetup, setup_of_one
from sitwell.search.group_search_space import GroupSitter, set_group_search_space
from sitwell.search.planner import EVALUATIONS_ALONE
from sitwell.search.search_space import Vector
from sitwell.search.solve import best

HABIT = {"turn_deg": 45.0, "key_azimuth_deg": 45.0, "key_elevation_deg": 45.0}
SEED = 5


def main() -> None:
    """Print a row for each way."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=len(HEADS))
    parser.add_argument("--only", default="", help="briefs that begin so")
    asked = parser.parse_args()
    gains, asks, broken, ears = (defaultdict[str, list[float]](list) for _ in range(4))
    for sliders in list(HEADS.values())[: asked.heads]:
        for brief in (brief for brief in BRIEFS if brief[0].startswith(asked.only)):
            search = _search(build_head(dict(sliders)), brief)
            read = search.space.spaces[0].reader
            for way, setup, outcome in _ways(search):
                asks[way].append(effort(search.goal.baseline, setup))
                gains[way].append(float(search.goal.gains(outcome).sum()))
                broken[way].append(float(bool(search.goal.broken(outcome))))
                if brief[0].startswith("ears"):
                    was = read(search.goal.base)("ear_prominence")
                    ears[way].append(read(outcome)("ear_prominence") / was)
    print("| way | gained, steps | asked for, steps | break a guard | ears stand out |")
    print("|---|---|---|---|---|")
    for way, gained in gains.items():
        out = f"{np.mean(ears[way]):.2f}" if ears[way] else ""
        told = f"{np.mean(gained):.2f} | {np.mean(asks[way]):.1f} | {np.mean(broken[way]):.0%}"
        print(f"| {way} | {told} | {out} |")
    print(f"{len(gains['plan'])} briefs")


def _search(head: Head, brief: tuple[str, ...]) -> Search:
    wishes = tuple(parse_wish(wish) for wish in brief)
    worn = Glasses() if any(wish.feature == "glasses" for wish in wishes) else None
    sitter = GroupSitter(label="", evaluator=Evaluator(head, worn), wishes=wishes)
    space = set_group_search_space(
        [sitter], DEFAULT_KIT, DEFAULT_ROOM, "head-and-shoulders", "4:5", {}
    )
    return Search.begin(space, HeightWish(), 0, EVALUATIONS_ALONE, None, None)


def _ways(search: Search) -> Iterator[tuple[str, GroupSetup, Vector]]:
    """Each way's set-up and what it shows; the plan's is the last one, which does the most."""
    strong = list(search.find().values())[-1]
    yield "plan", search.setup(strong), strong.outcome
    space, straight = search.space, search.goal.baseline
    habit = setup_of_one(straight.own(0).with_changes(**HABIT))
    yield "habit", habit, space.vector(habit, space.options[space.usual].choice)
    random, looks = np.random.default_rng(SEED), len(search.archive)
    seen = [
        search.archive.at(int(random.integers(len(space.options))), random.random(len(space.free)))
        for _ in range(looks)
    ]
    lucky = best(search.goal, seen)
    yield "chance", space.setup_at(lucky.option, lucky.x), lucky.outcome


if __name__ == "__main__":
    main()
