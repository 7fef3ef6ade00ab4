"""How well faces are read, on pictures of invented heads that the learning never saw.

Run from the repository: ``python -m benchmarks.accuracy_read``. Prints the tables that
docs/reading.md quotes. Everything here is synthetic: plain skin, painted hair, no glasses.
"""

import argparse
import dataclasses
from collections.abc import Callable, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from builders.pictures.landmarker_views import SIZE_PX, View, make_pictures
from sitwell.base.rotations import seen_pose
from sitwell.brief.marks import Mark
from sitwell.head.basis import landmark_basis
from sitwell.head.bias import load_bias
from sitwell.head.fit import FittedFrame, fit_head
from sitwell.head.pose import Sighting, pose_quick, project
from sitwell.head.seen_features import look_at
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import Head, build_head, head_from_values
from sitwell.head.template import load_template

Array = NDArray[np.float64]
Angles = tuple[float, float, float]
FRONTAL_DEG = 15.0
MARK_NOISE_MM = 1.0


def own_matrix(view: View) -> Angles:
    """The landmarker's own pose matrix, against the line of sight."""
    matrix = np.asarray(view.face.matrix)
    rotation = matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3]))
    return seen_pose(rotation, np.zeros(3), matrix[:3, 3])


def mean_head_plain(view: View) -> Angles:
    """Least squares on the mean head, as a perspective-n-point solver gives."""
    learned = load_bias()
    size = len(learned.directions)
    plain = dataclasses.replace(
        learned,
        offset=np.zeros_like(learned.offset),
        answer=np.zeros((size, size)),
        by_frame=np.eye(size),
        by_sitter=np.zeros((size, size)),
    )
    return pose_quick(build_head(), view.sighting, bias=plain).seen_deg


def mean_head_learned(view: View) -> Angles:
    """The mean head with the learned slide and scatter of the landmarks."""
    return pose_quick(build_head(), view.sighting).seen_deg


def one_frame(view: View) -> Angles:
    """The fit of shape, expression and pose to this frame alone."""
    return fit_head([view.with_lids]).frames[0].pose.seen_deg


def together(views: Sequence[View], sight: Callable[[View], Sighting]) -> list[FittedFrame]:
    """The joint fit of a head's frames, each as ``sight`` gives it."""
    return list(fit_head([sight(view) for view in views]).frames)


def with_lids(view: View) -> Sighting:
    """The frame with the lids' edges alone."""
    return view.with_lids


def with_found_marks(view: View) -> Sighting:
    """The frame as it is read: with all marks that the picture shows surely."""
    plain = view.with_lids
    return dataclasses.replace(plain, marks=(*plain.marks, *view.found.marks))


def with_parts(view: View, rgb: NDArray[np.uint8]) -> View:
    """The view with what its picture shows of ears, nose, eyes and mouth."""
    found = look_at(rgb, view.face.landmarks_px, view.sighting)
    return dataclasses.replace(view, found=found)


def with_ear_marks(view: View) -> Sighting:
    """The frame with three marked points on each ear that it shows, a millimetre off or so."""
    head = true_head(view)
    rng = np.random.default_rng(int(1000 * abs(view.pose.seen_deg[0])))
    px_per_mm = view.focal.px / view.pose.distance_mm
    marks = []
    for side, sign in (("own_left", 1.0), ("own_right", -1.0)):
        if view.pose.seen_deg[0] * sign > FRONTAL_DEG:
            continue  # turned toward this ear: it is behind the cheek
        for stem in ("ear_top", "ear_outer", "ear_lobe"):
            point = np.asarray(head.point(f"{stem}_{side}"), dtype=float)[None]
            centre = view.sighting.centre_px
            spot = project(point, view.pose, view.focal.px, centre)[0]
            spot = spot + rng.normal(size=2) * MARK_NOISE_MM * px_per_mm
            marks.append(Mark(name=f"{stem}_{side}", x_px=spot[0], y_px=spot[1]))
    plain = view.with_lids
    return dataclasses.replace(plain, marks=(*marks, *plain.marks))


def true_head(view: View) -> Head:
    """The invented head of a view, its face at rest."""
    still = np.zeros(len(load_template().expression_names), dtype=np.float32)
    return head_from_values(load_template(), view.shape.astype(np.float32), still)


def print_row(name: str, errors: Array, turns: Array) -> None:
    """Mean absolute error of turn, chin and tilt, frontal and turned."""
    frontal = np.abs(turns) < FRONTAL_DEG
    cells = [
        " / ".join(f"{value:.1f}" for value in np.abs(errors[chosen]).mean(axis=0))
        for chosen in (frontal, ~frontal)
    ]
    print(f"| {name} | {cells[0]} | {cells[1]} |")


def pose_tables(views: list[View]) -> dict[str, list[FittedFrame]]:
    """Print the pose errors; returns the joint fits for the tables that follow."""
    turns = np.array([view.pose.seen_deg[0] for view in views])
    truth = np.array([view.pose.seen_deg for view in views])
    print("| method | frontal: turn / chin / tilt, deg | turned 15-45 deg |\n|---|---|---|")
    single: dict[str, Callable[[View], Angles]] = {
        "the landmarker's own matrix": own_matrix,
        "mean head, plain least squares": mean_head_plain,
        "mean head, learned errors": mean_head_learned,
        "fit of one frame": one_frame,
    }
    for name, method in single.items():
        print_row(name, np.array([method(view) for view in views]) - truth, turns)
    joint: dict[str, list[FittedFrame]] = {}
    for name, sight in (
        ("fit of three frames", with_lids),
        ("with what the pictures show", with_found_marks),
        ("with three marks on each ear", with_ear_marks),
    ):
        joint[name] = []
        for _, own in groupby(views, key=lambda view: view.head):
            joint[name] += together(list(own), sight)
        found = np.array([frame.pose.seen_deg for frame in joint[name]])
        print_row(name, found - truth, turns)
    return joint


def spread_table(views: list[View], frames: list[FittedFrame]) -> None:
    """How often the truth lies within the stated sigma and its nine-in-ten band."""
    truth = np.array([(*view.pose.seen_deg, view.pose.distance_mm) for view in views])
    found = np.array([(*f.pose.seen_deg, f.pose.distance_mm) for f in frames])
    sigma = np.array(
        [
            (f.spread.turn_deg, f.spread.chin_deg, f.spread.tilt_deg, f.spread.distance_mm)
            for f in frames
        ]
    )
    score = np.abs(found - truth) / sigma
    print("\n| | turn | chin | tilt | distance |\n|---|---|---|---|---|")
    for name, limit in (("within 1 sigma", 1.0), ("within the 90 % band", 1.645)):
        cells = " | ".join(f"{100 * share:.0f} %" for share in (score < limit).mean(axis=0))
        print(f"| {name} | {cells} |")


def shape_table(views: list[View], joint: dict[str, list[FittedFrame]]) -> None:
    """Error of landmark places on the head, and how well single lengths are recovered."""
    print("\n| | landmarks on the head, mm | mean head | nose lean r | eye opening r | ear out r |")
    print("|---|---|---|---|---|---|")
    for name, frames in joint.items():
        own, mean, sizes, true_sizes = [], [], [], []
        for number, view in enumerate(views):
            if number and views[number - 1].head == view.head:
                continue
            still = np.zeros_like(view.expression)
            points = landmark_basis().at(view.shape, still)
            own.append(_aligned_rms(landmark_basis().at(frames[number].shape, still), points))
            mean.append(_aligned_rms(landmark_basis().mean_mm, points))
            fitted = head_from_values(
                load_template(), frames[number].shape.astype(np.float32), still.astype(np.float32)
            )
            sizes.append(head_sizes(fitted))
            true_sizes.append(head_sizes(true_head(view)))
        likeness = [
            np.corrcoef([s[key] for s in sizes], [s[key] for s in true_sizes])[0, 1]
            for key in ("nose_lean_mm", "eye_opening_own_left_mm", "ear_out_own_left_mm")
        ]
        cells = " | ".join(f"{value:.2f}" for value in (np.mean(own), np.mean(mean), *likeness))
        print(f"| {name} | {cells} |")


def _aligned_rms(found: Array, truth: Array) -> float:
    """Root mean square distance after the best shift, turn and size (Procrustes)."""
    a, b = found - found.mean(axis=0), truth - truth.mean(axis=0)
    u, strength, vt = np.linalg.svd(a.T @ b)
    scale = strength.sum() / (a**2).sum()
    return float(np.sqrt(((scale * a @ (u @ vt) - b) ** 2).sum(axis=1).mean()))


def main() -> None:
    """Make the pictures and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=30)
    parser.add_argument("--seed", type=int, default=4711)
    arguments = parser.parse_args()
    views = [
        with_parts(view, rgb)
        for view, rgb in make_pictures(arguments.heads, 3, seed=arguments.seed)
    ]
    print(f"{len(views)} of {3 * arguments.heads} pictures, {SIZE_PX} pixels\n")
    joint = pose_tables(views)
    for name, frames in joint.items():
        print(f"\n{name}:")
        spread_table(views, frames)
    shape_table(views, joint)


if __name__ == "__main__":
    main()
