"""A lone sitter planned by their own search, and by the group's as a group of one.

    python -m benchmarks.lone_by_group

For each invented head and brief: what the strong set-up does for the wishes, counted by the lone
search's own score, its effort, and the CPU time of both. Two searches stay behind one door as
long as the group's does less here.
"""

import time

from sitwell.brief.wishes import parse_wish
from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator
from sitwell.search.group_planner import make_group_plan
from sitwell.search.group_stage import GroupSitter
from sitwell.search.plan import Gain, Plan
from sitwell.search.planner import make_plan

HEADS = {
    "ears and lean": {"ear_wing": 0.45, "ear_size": 0.2, "nose_lean": -0.35},
    "long nose": {"nose_length": 0.4, "chin_width": -0.2, "eye_opening_uneven": 0.2},
}
BRIEFS = (("ears:soften:3",), ("nose-bend", "eye-balance"), ("nose-length", "jaw", "forehead"))


def main() -> None:
    """Print a row for each head and brief."""
    print("| head | wishes | alone: steps, set-ups, s | as a group of one: steps, set-ups, s |")
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
            print(f"| {name} | {', '.join(brief)} | {_told(alone, lone_s)} "
                  f"| {_told(grouped, group_s)} |", flush=True)  # fmt: skip


def _told(plan: Plan, spent_s: float) -> str:
    """Noticeable steps for the wishes in the strong set-up, how many set-ups, seconds of CPU."""
    best = _steps(plan.setups[-1].gains) if plan.setups else 0.0
    return f"{best:.2f}, {len(plan.setups)}, {spent_s:.0f}"


def _steps(gains: tuple[Gain, ...]) -> float:
    return sum(gain.gain for gain in gains)


if __name__ == "__main__":
    main()
