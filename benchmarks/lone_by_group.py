"""A lone sitter planned by their own search, and by the group's as a group of one.

    python -m benchmarks.lone_by_group

For each invented head and brief: what the last set-up does for the wishes (weighed and capped) and
which of the lone sitter's guards it breaks, both by the lone search's own rules; how many set-ups
there are; CPU seconds. Two searches are behind one door (``flow.plan``): whether the group's could
serve a lone sitter as well is what this asks.
"""

import time

from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import DEFAULT_KIT
from sitwell.brief.room import DEFAULT_ROOM
from sitwell.brief.wishes import parse_wish
from sitwell.head.surface import Head, build_head
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.search.choices import Means
from sitwell.search.find_setups import Search
from sitwell.search.group_planner import make_group_plan
from sitwell.search.group_search_space import GroupSitter
from sitwell.search.plan import Plan
from sitwell.search.planner import make_plan
from sitwell.search.search_space import SearchSpace, set_search_space

HEADS = {
    "ears and lean": {"ear_wing": 0.45, "ear_size": 0.2, "nose_lean": -0.35},
    "long nose": {"nose_length": 0.4, "chin_width": -0.2, "eye_opening_uneven": 0.2},
}
BRIEFS = (("ears:soften:3",), ("nose-bend", "eye-balance"), ("nose-length", "jaw", "forehead"))


def main() -> None:
    """Print a row for each head and brief."""
    print("| head | wishes | alone: steps, broken, set-ups, s | as a group of one: the same |")
    print("|---|---|---|---|")
    for name, shape in HEADS.items():
        head = build_head(shape)
        for brief in BRIEFS:
            wishes = tuple(parse_wish(text) for text in brief)
            start = time.process_time()
            alone = make_plan(Evaluator(head), wishes)
            lone_s = time.process_time() - start
            start = time.process_time()
            sitter = GroupSitter(label="", evaluator=Evaluator(head), wishes=wishes)
            grouped = make_group_plan([sitter], evaluations=1600).parts[0]
            group_s = time.process_time() - start
            judge = Search.begin(_stage(head), wishes, 0, 0, None, None)
            told = f"{_told(judge, alone, lone_s)} | {_told(judge, grouped, group_s)}"
            print(f"| {name} | {', '.join(brief)} | {told} |", flush=True)


def _stage(head: Head) -> SearchSpace:
    means = Means(kit=DEFAULT_KIT, room=DEFAULT_ROOM, comfort=Comfort(), locked={})
    return set_search_space(
        Evaluator(head), NAMES, means, framing="head-and-shoulders", aspect="4:5",
        crops=("whole-head",),
    )  # fmt: skip


def _told(judge: Search, plan: Plan, spent_s: float) -> str:
    """Steps for the wishes in the strong set-up, guards it breaks, set-ups, seconds of CPU."""
    vector = judge.space.vector(plan.setups[-1].setup)
    broken = ", ".join(guard.name for guard in judge.guards.broken(vector)) or "none"
    return f"{judge.benefit.total(vector):.2f}, {broken}, {len(plan.setups)}, {spent_s:.0f}"


if __name__ == "__main__":
    main()
