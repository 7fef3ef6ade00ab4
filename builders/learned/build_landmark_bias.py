"""Learn how the landmarker errs, from pictures of invented heads at known poses.

Writes ``sitwell/head/data/landmark_bias.npz``. Run from the repository: ``python -m
builders.learned.build_landmark_bias``; it takes some minutes. Heads are drawn from the head's own
prior, so the result holds for renders; docs/reading.md says what that leaves open.
"""

import argparse
import dataclasses
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.pictures.landmarker_views import View, make_views
from sitwell.base.files import make_atomically
from sitwell.head.basis import landmark_basis
from sitwell.head.bias import DATA, LandmarkBias, pose_terms
from sitwell.head.fit import fit_head
from sitwell.head.spread import REAL_FACES

COORDINATES = 100
_RIDGE = 1.0  # views' worth of pull toward no offset, for the high terms
_RIDGE_MM2 = 500.0  # and toward no answer to a departure
_SHRINK = 0.3  # of a covariance toward its own diagonal
# Two halves, so that two processors can share the pictures; the last seed's heads only calibrate.
_SEEDS, _KEPT_OUT_SEED = (101, 202), 404

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sample:
    """Rows of what the views hold: terms (n, T), and errors, departures and slopes (n, 2N)."""

    owner: NDArray[np.int64]
    terms: Array
    errors: Array
    departures: Array
    slopes: Array


def learn(views: list[View]) -> dict[str, Array]:
    """Directions, offset, answer and covariances from the views and their mirror images."""
    sample = _with_mirror_images(views)
    directions = _strongest(
        np.vstack([sample.errors, sample.departures, sample.slopes]), COORDINATES
    )
    errors, departures = sample.errors @ directions.T, sample.departures @ directions.T
    offset, answer = _regress(sample.terms, departures, errors)
    rest = errors - sample.terms @ offset - departures @ answer
    by_frame, by_sitter = covariances(rest, sample.owner)
    return {
        "directions": directions,
        "offset": offset,
        "answer": answer,
        "by_frame": by_frame,
        "by_sitter": by_sitter,
        "spread_scale": np.ones(3),
    }


def join(parts: list[list[View]]) -> list[View]:
    """The views of all parts, their heads numbered on."""
    joined: list[View] = []
    for part in parts:
        start = joined[-1].head + 1 if joined else 0
        joined += [dataclasses.replace(view, head=view.head + start) for view in part]
    return joined


def _with_mirror_images(views: list[View]) -> _Sample:
    """Each view twice: as it is, and seen in a mirror, as another head's."""
    owner = np.array([view.head for view in views])
    poses = np.array([view.pose.seen_deg[:2] for view in views])
    errors = np.stack([view.error_mm().reshape(-1) for view in views])
    departures = np.stack([view.departure_mm().reshape(-1) for view in views])
    slopes = np.vstack([view.pose_slope_mm() for view in views])
    return _Sample(
        owner=np.r_[owner, owner + owner.max() + 1],
        terms=np.stack([pose_terms(*pose) for pose in np.r_[poses, poses * (-1.0, 1.0)]]),
        errors=np.r_[errors, mirrored(errors)],
        departures=np.r_[departures, mirrored(departures)],
        slopes=np.r_[slopes, mirrored(slopes)],
    )


def mirrored(rows: Array) -> Array:
    """Rows (n, 2N) of landmarks as a mirror shows them."""
    mean_mm = landmark_basis().mean_mm
    across = np.linalg.norm(mean_mm[:, None] * (-1.0, 1.0, 1.0) - mean_mm[None], axis=2)
    partner = np.argmin(across, axis=1)
    flipped = rows.reshape(len(rows), -1, 2)[:, partner] * (-1.0, 1.0)
    return flipped.reshape(len(rows), -1)


def _strongest(rows: Array, count: int) -> Array:
    """Unit vectors along the strongest shared directions."""
    return np.linalg.svd(rows, full_matrices=False)[2][:count]


def _regress(terms: Array, departures: Array, errors: Array) -> tuple[Array, Array]:
    """Weights of the pose terms and of the departures, the weak ones drawn toward none."""
    inputs = np.hstack([terms, departures])
    pull = np.r_[0.0, np.full(terms.shape[1] - 1, _RIDGE), np.full(len(departures.T), _RIDGE_MM2)]
    weights = np.linalg.solve(inputs.T @ inputs + np.diag(pull), inputs.T @ errors)
    return weights[: terms.shape[1]], weights[terms.shape[1] :]


def covariances(rest: Array, owner: NDArray[np.int64]) -> tuple[Array, Array]:
    """How the rest varies between the views of one head, and between heads."""
    heads = [rest[owner == head] for head in np.unique(owner)]
    heads = [mine for mine in heads if len(mine) > 1]
    within = np.vstack([(m - m.mean(axis=0)) * np.sqrt(len(m) / (len(m) - 1)) for m in heads])
    by_frame = _shrunk(within.T @ within / len(within))
    means = np.stack([mine.mean(axis=0) for mine in heads])
    views = np.mean([1.0 / len(mine) for mine in heads])
    between = _shrunk(means.T @ means / len(means)) - by_frame * views
    strength, axes = np.linalg.eigh(between)
    return by_frame, (axes * np.clip(strength, 0.0, None)) @ axes.T


def _shrunk(covariance: Array) -> Array:
    return (1.0 - _SHRINK) * covariance + _SHRINK * np.diag(np.diag(covariance))


def calibrate(learned: dict[str, Array], views: list[View]) -> Array:
    """What turn, chin and tilt spreads must be multiplied by to hold 90 of 100 views in 1.645.

    Measured on views that were not learned from, one frame at a time, without the widening for
    real faces.
    """
    bias = LandmarkBias(**learned)
    scores = []
    for view in views:
        frame = fit_head([view.sighting], bias=bias).frames[0]
        spread = np.array([frame.spread.turn_deg, frame.spread.chin_deg, frame.spread.tilt_deg])
        scores.append((np.array(frame.pose.seen_deg) - view.pose.seen_deg) / spread * REAL_FACES)
    return np.percentile(np.abs(scores), 90.0, axis=0) / 1.645


def write(learned: dict[str, Array], path: Path = DATA) -> None:
    """Store in single precision, but the directions, which are most of it, in half."""
    kinds = {"directions": np.float16}
    stored = {k: values.astype(kinds.get(k, np.float32)) for k, values in learned.items()}
    make_atomically(path, lambda temporary: np.savez_compressed(temporary, **stored))


def main() -> None:
    """Make the views, learn, write, and say how large the errors are."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=260)
    parser.add_argument("--views", type=int, default=3)
    arguments = parser.parse_args()
    begun = time.perf_counter()
    halves = [make_views(arguments.heads // 2, arguments.views, seed=seed) for seed in _SEEDS]
    views = join(halves)
    learned = learn(views)
    kept_out = make_views(max(2, arguments.heads * 60 // 260), arguments.views, _KEPT_OUT_SEED)
    learned["spread_scale"] = calibrate(learned, kept_out)
    write(learned)
    print(f"{len(views)} of {arguments.heads * arguments.views} views, "
          f"{time.perf_counter() - begun:.0f} s, {DATA.stat().st_size / 1000:.0f} kB")  # fmt: skip
    print(f"spreads multiplied by {np.round(learned['spread_scale'], 2)}")
    scatter = np.sqrt(np.trace(learned["by_frame"]) / learned["directions"].shape[1])
    steady = np.sqrt(np.trace(learned["by_sitter"]) / learned["directions"].shape[1])
    print(f"left beside: {scatter:.2f} mm by frame, {steady:.2f} mm by sitter")


if __name__ == "__main__":
    main()
