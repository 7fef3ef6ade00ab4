"""How well a fitted head tells what a turn does to the ears, against the invented head's own.

Run from the repository: ``python -m benchmarks.accuracy_ears`` (a minute for ten heads); prints the
table that docs/reading.md quotes. Both heads are looked at by the measures: each ear's visible area
straight on and at turns to either side, and the smallest turn at which the far ear is gone.
"""

import argparse
from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from benchmarks.accuracy_read import true_head, with_ear_marks, with_found_marks, with_parts
from builders.pictures.landmarker_views import View, make_pictures
from sitwell.head.fit import fit_head
from sitwell.head.surface import SIDES, Head
from sitwell.scene.ear_measures import GONE_OUT, GONE_SHOW
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import Setup

Array = NDArray[np.float64]
TURNS_DEG = np.arange(0.0, 46.0, 1.0)
LOOKED_AT_DEG = (0, 10, 20)  # at these an ear's share is compared, the far one as far as it shows
LEAST_SHARE = 0.01  # of the face's area: a smaller ear is all but gone


def ears_of(head: Head) -> Array:
    """Visible area and stand-out (2, T, 2, 2): toward either side, turn, measure, ear."""
    evaluator = Evaluator(head)
    columns = [[NAMES.index(f"ear_{what}_{side}") for side in SIDES] for what in ("show", "out")]
    return np.array(
        [
            [evaluator.evaluate(Setup(turn_deg=sign * turn))[columns] for turn in TURNS_DEG]
            for sign in (1.0, -1.0)
        ]
    )


def gone_at_deg(ears: Array) -> list[float]:
    """The turn at which the far ear is gone, to either side; nan where it never is.

    Turned toward the own left, the own left ear goes.
    """
    turns = []
    for toward, by_turn in enumerate(ears):
        show, out = by_turn[:, 0, toward], by_turn[:, 1, toward]
        gone = np.flatnonzero((show < GONE_SHOW) & (out < GONE_OUT))
        turns.append(float(TURNS_DEG[gone[0]]) if len(gone) else float("nan"))
    return turns


def fits(views: Sequence[View]) -> Iterator[tuple[str, Head]]:
    """The head from a sitter's frames, read in three ways."""
    yield "landmarks and lids", fit_head([view.with_lids for view in views]).head
    yield "with what the pictures show", fit_head([with_found_marks(view) for view in views]).head
    yield "with three marks an ear", fit_head([with_ear_marks(view) for view in views]).head


def main() -> None:
    """Make the pictures, fit, and print the errors."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=20)
    parser.add_argument("--seed", type=int, default=4711)
    arguments = parser.parse_args()
    pictures = make_pictures(arguments.heads, 3, seed=arguments.seed)
    views = [with_parts(view, rgb) for view, rgb in pictures]
    off: dict[str, list[Array]] = {}
    apart: dict[str, list[float]] = {}
    for _, own in groupby(views, key=lambda view: view.head):
        sitter = list(own)
        truth = ears_of(true_head(sitter[0]))
        seen = truth[:, LOOKED_AT_DEG, 0]
        for name, head in fits(sitter):
            ears = ears_of(head)
            relative = (ears[:, LOOKED_AT_DEG, 0] - seen) / np.where(seen > 0.0, seen, 1.0)
            off.setdefault(name, []).append(np.abs(relative[seen >= LEAST_SHARE]))
            turns = np.subtract(gone_at_deg(ears), gone_at_deg(truth))
            apart.setdefault(name, []).extend(np.abs(turns).tolist())
    print(
        f"| {arguments.heads} heads | share off, median | within 15 % "
        "| turn that hides the far ear: off, median | within 2 deg |\n|---|---|---|---|---|"
    )
    for name in off:
        shares, turns = np.concatenate(off[name]), np.array(apart[name])
        turns = turns[np.isfinite(turns)]
        print(
            f"| {name} | {100 * np.median(shares):.0f} % | {100 * (shares < 0.15).mean():.0f} % "
            f"| {np.median(turns):.0f} deg of {len(turns)} turns "
            f"| {100 * (turns <= 2.0).mean():.0f} % |"
        )


if __name__ == "__main__":
    main()
