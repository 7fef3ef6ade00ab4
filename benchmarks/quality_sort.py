"""How often sorting puts the right frame of a burst forward, and whether ever one with closed eyes.

    python -m benchmarks.quality_sort [--sittings 12] [--bursts 6] [--first 0]

Labelled bursts of rendered, invented heads (builders/references/labelled_bursts.py): what is right
is known, because the faults were put in. Half of the lone sitters are held against a plan, a third
of the sittings are couples. The last line counts pictures of real people: none.
"""

import argparse
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path

from builders.references.labelled_bursts import (
    DRIFT_DEG,
    Label,
    Sitter,
    Take,
    make_sitting,
    planned_sitters,
)
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, Leeway, PlannedSetup
from sitwell.shoot.frame_facts import Expected
from sitwell.sort.rank import RankedBurst
from sitwell.sort.reading import Held
from sitwell.sort.sorting import Sorting

RIGHT_GOAL = 0.95


@dataclass(slots=True)
class Score:
    """Counts over bursts; ``misses`` says of each wrong one what was taken instead."""

    bursts: int = 0
    right: int = 0
    closed_forward: int = 0
    split: int = 0
    each_named: int = 0
    misses: list[str] = field(default_factory=list)

    def add(self, other: "Score") -> None:
        """Take in another score."""
        self.bursts += other.bursts
        self.right += other.right
        self.closed_forward += other.closed_forward
        self.split += other.split
        self.each_named += other.each_named
        self.misses += other.misses


def score_sitting(place: Path, seed: int, bursts: int) -> Score:
    """Make one sitting, sort it, and hold the order against the labels."""
    people = 2 if seed % 3 == 2 else 1
    labels = make_sitting(place / "card", seed, bursts, people)
    expected, held = _expected(planned_sitters(seed, people)[0])
    sorting = Sorting(place / "card", place / "index.sqlite", expected, held)
    try:
        sorting.read(workers=1)
        ranked = {burst.frames[0].file: burst for burst in sorting.bursts()}
        by_files = {frozenset(f.file for f in b.frames): b for b in ranked.values()}
        score = Score()
        for label in labels:
            score.add(_score(label, by_files.get(frozenset(label.files)), seed))
        return score
    finally:
        sorting.index.close()


def _score(label: Label, burst: RankedBurst | None, seed: int) -> Score:
    if burst is None:
        return Score(bursts=1, misses=[f"sitting {seed}: {label.files} were not one burst"])
    forward = burst.best.file if burst.best else None
    if label.best_for:  # no frame serves both, so there is no right one, only one for each
        named = all(
            not right or burst.best_for.get(person) in right
            for person, right in label.best_for.items()
        )
        miss = [] if named else [f"sitting {seed}: best for each {burst.best_for}, {label}"]
        return Score(split=1, each_named=int(named), misses=miss)
    good = forward in label.right if label.right else forward is None
    closed = forward in label.closed and bool(label.right)
    why = f"sitting {seed}: {forward} {set(label.faults.get(forward or '', ()))}"
    wanted = f"not {set(label.right)}: {burst.frames[0].reason}"
    return Score(
        bursts=1,
        right=int(good),
        closed_forward=int(closed or (forward is not None and not label.right)),
        misses=[] if good else [f"{why} {wanted}"],
    )


def _expected(sitter: Sitter) -> tuple[Expected, Held | None]:
    """The plan of a sitter that has one: a turn that takes the far ear out of sight."""
    turn_deg = sitter.plan_turn_deg
    if turn_deg is None:
        return Expected(), None
    head = sitter.head()
    planned = sitter.setup(Take(turn_deg=turn_deg, lids=(0.0, 0.0)), key_azimuth_deg=35.0)
    far_ear = "ear_show_own_left" if turn_deg > 0 else "ear_show_own_right"
    was, becomes = (_measure(head, s, far_ear) for s in (planned.with_changes(turn_deg=0), planned))
    setup = PlannedSetup(
        name="balanced",
        setup=planned,
        measures={},
        gains=(Gain(wish="ears", measure=far_ear, was=was, becomes=becomes, gain=2.0),),
        guards=(),
        leeway=(
            Leeway(
                move="turn_deg",
                low=turn_deg - DRIFT_DEG / 3,
                high=turn_deg + DRIFT_DEG / 3,
                low_why="",
                high_why="",
            ),
        ),
        reasons=(),
    )
    return Expected(planned=setup, asked=("ears",)), Held(head=head, setup=planned)


def _measure(head: object, setup: Setup, name: str) -> float:
    return float(Evaluator(head).evaluate(setup)[NAMES.index(name)])  # type: ignore[arg-type]


def _work(job: tuple[int, int]) -> Score:
    seed, bursts = job
    with tempfile.TemporaryDirectory() as name:
        return score_sitting(Path(name), seed, bursts)


def main() -> None:
    """Print the share of right frames, the closed eyes put forward, and every miss."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--sittings", type=int, default=12)
    parser.add_argument("--bursts", type=int, default=6, help="in each sitting")
    parser.add_argument("--first", type=int, default=0, help="the first sitting's number")
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    jobs = [(seed, asked.bursts) for seed in range(asked.first, asked.first + asked.sittings)]
    total = Score()
    with ProcessPoolExecutor(asked.workers, get_context("spawn")) as pool:
        for score in pool.map(_work, jobs):
            total.add(score)
    for miss, count in Counter(total.misses).items():
        print(f"  {miss}" + (f" ({count} times)" if count > 1 else ""))
    share = total.right / max(total.bursts, 1)
    print(f"bursts:                  {total.bursts} + {total.split} that no frame serves")
    print(f"right frame first:       {share:.1%} ({total.right} of {total.bursts}; goal 95 %)")
    print(f"closed eyes put forward: {total.closed_forward} (goal 0)")
    print(f"best of each named:      {total.each_named} of {total.split}")
    print("pictures of real people: 0")


if __name__ == "__main__":
    main()
