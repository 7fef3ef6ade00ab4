"""Learn how the landmarker errs, from pictures of invented heads at known poses.

Writes ``sitwell/head/data/landmark_bias.npz``. Run from the repository: ``python -m
builders.build_landmark_bias``; it takes some minutes. Heads are drawn from the head's own prior,
so the result holds for renders; docs/reading.md says what that leaves open.
"""

import argparse
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.face_views import View, make_views
from sitwell.head.bias import DATA, pose_terms

FRAME_MODES, SITTER_MODES = 16, 16
_RIDGE = 1.0  # views' worth of pull toward no offset, for the high terms

Array = NDArray[np.float64]


def learn(views: list[View]) -> dict[str, Array]:
    """Offset, scatter and shared modes from the views."""
    errors = np.stack([view.error_mm().reshape(-1) for view in views])
    terms = np.stack([pose_terms(*view.pose.seen_deg[:2]) for view in views])
    pull = _RIDGE * np.eye(terms.shape[1])
    pull[0, 0] = 0.0
    offset = np.linalg.solve(terms.T @ terms + pull, terms.T @ errors)
    rest = errors - terms @ offset
    owner = np.array([view.head for view in views])
    means, within = _split(rest, owner)
    frame_modes, frame_rest = _modes(within, FRAME_MODES)
    sitter_modes, sitter_rest = _modes(means, SITTER_MODES)
    scatter = np.sqrt(np.maximum(frame_rest, 0.0) + np.maximum(sitter_rest, 0.0))
    count = errors.shape[1] // 2
    return {
        "offset_mm": offset.reshape(-1, count, 2),
        "scatter_mm": np.maximum(scatter, 0.2).reshape(count, 2),
        "frame_modes_mm": frame_modes.reshape(-1, count, 2),
        "sitter_modes_mm": sitter_modes.reshape(-1, count, 2),
        "spread_scale": np.ones(3),
    }


def _split(rest: Array, owner: NDArray[np.int64]) -> tuple[Array, Array]:
    """Each head's own mean error, shrunk for the views it rests on, and what varies by view.

    Rows are scaled so that their mean square is the variance of either part.
    """
    means, within = [], []
    for head in np.unique(owner):
        mine = rest[owner == head]
        if len(mine) < 2:
            continue
        mean = mine.mean(axis=0)
        means.append(mean)
        within.append((mine - mean) * np.sqrt(len(mine) / (len(mine) - 1)))
    spread = np.vstack(within)
    noise = (spread**2).mean(axis=0) * len(means) / len(spread)
    between = np.stack(means)
    shrink = np.sqrt(np.clip(1.0 - noise / (between**2).mean(axis=0), 0.05, 1.0))
    return between * shrink, spread


def _modes(rows: Array, count: int) -> tuple[Array, Array]:
    """The strongest shared directions, each one sigma long, and the variance beside them."""
    _, strength, directions = np.linalg.svd(rows / np.sqrt(len(rows)), full_matrices=False)
    modes = strength[:count, None] * directions[:count]
    return modes, (rows**2).mean(axis=0) - (modes**2).sum(axis=0)


def write(learned: dict[str, Array], path: Path = DATA) -> None:
    """Store lengths in half precision (0.01 mm at 18 mm), compressed."""
    stored = {name: values.astype(np.float16) for name, values in learned.items()}
    np.savez_compressed(path, **stored)


def main() -> None:
    """Make the views, learn, write, and say how large the errors are."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=110)
    parser.add_argument("--views", type=int, default=6)
    arguments = parser.parse_args()
    begun = time.perf_counter()
    views = make_views(arguments.heads, arguments.views, seed=20_26)
    learned = learn(views)
    write(learned)
    print(f"{len(views)} of {arguments.heads * arguments.views} views, "
          f"{time.perf_counter() - begun:.0f} s, {DATA.stat().st_size / 1000:.0f} kB")  # fmt: skip
    front_mm = np.median(np.linalg.norm(learned["offset_mm"][0], axis=1))
    print(f"front: median offset {front_mm:.2f} mm, "
          f"median scatter {np.median(learned['scatter_mm']):.2f} mm")  # fmt: skip


if __name__ == "__main__":
    main()
