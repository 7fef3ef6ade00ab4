"""How long a plan takes, how many set-ups it looks at, and what share of the time is looking.

Run: python benchmarks/bench_plan.py [evaluations]
The floor is the picture itself: the same number of looks without any search, in the same run.
"""

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.wishes import parse_wish
from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator
from sitwell.scene.setup import Setup
from sitwell.search.planner import make_plan

CASES = (
    ("ears",),
    ("ears", "nose-length"),
    ("forehead:soften:3", "jaw", "skin"),
    ("nose-length:soften:3", "eye-size:bring-out:3"),
    (),
)


class Counting:
    """An evaluator that counts its looks."""

    def __init__(self, evaluator: Evaluator) -> None:
        self.evaluator = evaluator
        self.setups: list[Setup] = []

    def evaluate(self, setup: Setup) -> NDArray[np.float64]:
        """The measures of one set-up, remembered as looked at."""
        self.setups.append(setup)
        return self.evaluator.evaluate(setup)


def seconds_of(job: Callable[[], object]) -> float:
    """CPU seconds of this process: the machine may be shared."""
    start = time.process_time()
    job()
    return time.process_time() - start


def main(evaluations: int) -> None:
    """Print one row a case, and the medians."""
    evaluator = Evaluator(build_head({"nose_lean": 0.4, "eye_opening_uneven": 0.3}))
    evaluator.evaluate(Setup())  # compile first
    rows = []
    for wishes in CASES:
        counting = Counting(evaluator)
        parsed = [parse_wish(wish) for wish in wishes]
        plan_s = seconds_of(lambda: make_plan(counting, parsed, evaluations=evaluations))  # noqa: B023
        floor_s = seconds_of(lambda: [evaluator.evaluate(s) for s in counting.setups])  # noqa: B023
        looks = len(counting.setups)
        rows.append((plan_s, looks, floor_s))
        print(
            f"{' + '.join(wishes) or 'no wish':48s} {plan_s:5.2f} s CPU, {looks:5d} looks "
            f"({looks / floor_s:4.0f} a second alone), search over looking alone "
            f"{plan_s / floor_s:4.2f}"
        )
    plan_s, looks, floor_s = (statistics.median(column) for column in zip(*rows, strict=True))
    print(f"median: {plan_s:.2f} s CPU, {looks:.0f} looks, {plan_s / floor_s:.2f} x looking alone")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1600)
