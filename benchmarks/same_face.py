"""How often frames of two people are asked about, and frames of one.

Run from the repository: ``python -m benchmarks.same_face [--people FOLDER]``. Pictures are of
invented heads in any pose and light, with pulled faces: harder than test frames. ``--people``
takes photographs of one person each, all different, and reads them in pairs.
"""

import argparse
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.pictures.landmarker_views import make_pictures
from sitwell.head.fit import fit_head
from sitwell.head.problem import Known
from sitwell.head.reading import read_photos
from sitwell.head.same_face import unlike_frames

MIXED = 400  # pairs and triples of two people that are tried


def asked_share(groups: Sequence[Sequence[Known]]) -> str:
    """How many groups of frames are asked about."""
    asked = sum(bool(unlike_frames(group)) for group in groups)
    return f"{asked} of {len(groups)} ({100 * asked / max(len(groups), 1):.0f} %)"


def print_renders(known: Sequence[Known], heads: NDArray[np.int64], seed: int) -> None:
    """Pairs and triples of one head, and with one of another; ``heads`` (N,) says whose."""
    rng = np.random.default_rng(seed)
    own = {head: np.flatnonzero(heads == head).tolist() for head in set(heads.tolist())}
    print("| frames | of one head, asked about | with one of another head, asked about |")
    print("|---|---|---|")
    for size in (2, 3):
        alike = [g for places in own.values() for g in combinations(places, size)]
        mixed = []
        for _ in range(MIXED):
            head = rng.choice([h for h, places in own.items() if len(places) >= size - 1])
            one = rng.choice(own[head], size - 1, replace=False).tolist()
            mixed.append([*one, int(rng.choice(np.flatnonzero(heads != head)))])
        cells = [asked_share([[known[i] for i in g] for g in groups]) for groups in (alike, mixed)]
        print(f"| {size} | {cells[0]} | {cells[1]} |")


def print_people(folder: Path) -> None:
    """Every pair of photographs of different people."""
    fits = [read_photos([path]).fit for path in sorted(folder.glob("*.jpg"))]
    known = [fit.known for fit in fits if fit is not None]
    print(f"\nphotographs of two people: {asked_share(list(combinations(known, 2)))} asked about")


def main() -> None:
    """Make the pictures and print the rates."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=30)
    parser.add_argument("--seed", type=int, default=991)
    parser.add_argument("--people", type=Path)
    arguments = parser.parse_args()
    views = [view for view, _ in make_pictures(arguments.heads, 4, seed=arguments.seed)]
    known = [fit_head([view.with_lids]).known for view in views]
    print_renders(known, np.array([view.head for view in views]), arguments.seed)
    if arguments.people:
        print_people(arguments.people)


if __name__ == "__main__":
    main()
