"""A lone sitter's strong set-up, sought as one is and as several are.

    python -m benchmarks.lone_by_group

One search serves both, but where it starts differs: from a spread over all choices and an evolution
strategy, or from the best pose under each of a few keys and one move after another. For each
invented head and brief: what the strong set-up does for the wishes less what it asks for, guards
that it breaks, set-ups looked at until then, and CPU seconds.
"""

import time

from sitwell.brief.kit import DEFAULT_KIT
from sitwell.brief.room import DEFAULT_ROOM
from sitwell.brief.wishes import HeightWish, parse_wish
from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator
from sitwell.search.find_setups import Search
from sitwell.search.group_search_space import GroupSitter, set_group_search_space
from sitwell.search.planner import EVALUATIONS_ALONE

HEADS = {
    "ears and lean": {"ear_wing": 0.45, "ear_size": 0.2, "nose_lean": -0.35},
    "long nose": {"nose_length": 0.4, "chin_width": -0.2, "eye_opening_uneven": 0.2},
}
BRIEFS = (
    ("ears:soften:3",),
    ("nose-bend", "eye-balance"),
    ("nose-length", "jaw", "forehead"),
    ("face-width:narrower",),
)


def main() -> None:
    """Print a row for each head and brief."""
    print("| head | wishes | a spread: worth, broken, looks, s | a pose at a time: the same |")
    print("|---|---|---|---|")
    for name, shape in HEADS.items():
        for brief in BRIEFS:
            told = " | ".join(_sought(shape, brief, spreads) for spreads in (True, False))
            print(f"| {name} | {', '.join(brief)} | {told} |", flush=True)


def _sought(shape: dict[str, float], brief: tuple[str, ...], spreads: bool) -> str:
    """Worth of the strong set-up, guards it breaks, looks at the head, seconds of CPU."""
    sitter = GroupSitter(
        label="",
        evaluator=Evaluator(build_head(shape)),
        wishes=tuple(parse_wish(text) for text in brief),
    )
    space = set_group_search_space(
        [sitter], DEFAULT_KIT, DEFAULT_ROOM, "head-and-shoulders", "4:5", {}
    )
    search = Search.begin(space, HeightWish(), 0, EVALUATIONS_ALONE, None, None)
    search.spreads = spreads
    start = time.process_time()
    strong = search.strong()
    spent_s = time.process_time() - start
    cost, _ = search.goal(strong.option, strong.x, strong.outcome)
    broken = ", ".join(guard.name for guard in search.goal.broken(strong.outcome).values())
    return f"{-cost:.2f}, {broken or 'none'}, {len(space.spaces[0].seen)}, {spent_s:.1f}"


if __name__ == "__main__":
    main()
