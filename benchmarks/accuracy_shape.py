"""How well a nose's lean and the eyes' openings are read, on pictures of invented heads.

Run from the repository: ``python -m benchmarks.accuracy_shape``. Prints the tables that
docs/reading.md quotes. The truth of an opening is the median over the frames that don't blink, as
the sitter holds the lids in them. All of it is synthetic: plain skin, painted eyes, no lashes.
"""

import argparse
import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from builders.pictures.landmarker_views import View, make_pictures
from sitwell.brief.marks import Mark
from sitwell.head.pose import Sighting, project
from sitwell.head.seen_features import look_at, marks_beside
from sitwell.head.sitter import fit_sitter
from sitwell.head.sizes import head_sizes, size_spreads
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.head.usable import BLINK

Array = NDArray[np.float64]
SIZE_PX = 896
LEAN_MM, UNEVEN = 2.0, 0.08
MARK_NOISE_MM = 0.7
NOTHING: frozenset[str] = frozenset()
_NOSE = ("nose_tip", "nose_ridge_2", "nose_ridge_3", "nose_ridge_4")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Lean in mm and ratio of openings (as natural logarithm): read, true and one sigma (2,)."""

    read: Array
    true: Array
    sigma: Array


def landmarks_only(view: View) -> Sighting:
    """The frame without anything measured in the picture beside the landmarks."""
    return view.sighting


def with_lids(view: View) -> Sighting:
    """The frame with lid edges measured in the picture."""
    return view.with_lids


def as_read(view: View) -> Sighting:
    """The same with all that the picture surely shows of nose, ears, eyes and mouth."""
    frame = view.with_lids
    return dataclasses.replace(frame, marks=(*frame.marks, *marks_beside((), view.found, NOTHING)))


def lids_and_placed(view: View) -> Sighting:
    """The frame with lid edges and the nose's placed marks."""
    frame = view.with_lids
    return dataclasses.replace(frame, marks=(*frame.marks, *placed_on_nose(view)))


def read_and_placed(view: View) -> Sighting:
    """The frame as it is read where the nose is marked, too."""
    frame, placed = view.with_lids, placed_on_nose(view)
    beside = marks_beside(placed, view.found, NOTHING)
    return dataclasses.replace(frame, marks=(*frame.marks, *placed, *beside))


def placed_on_nose(view: View) -> tuple[Mark, ...]:
    """The tip and three points of the ridge as marked by hand, 0.7 mm off or so."""
    rng = np.random.default_rng(int(1000 * abs(view.pose.seen_deg[0])))
    head, frame = _true_head(view), view.sighting
    places = np.array([head.point(name) for name in _NOSE], dtype=float)
    spots = project(places, view.pose, view.focal.px, frame.centre_px)
    spots += rng.normal(size=spots.shape) * MARK_NOISE_MM * view.focal.px / view.pose.distance_mm
    return tuple(
        Mark(name="nose_tip" if name == "nose_tip" else "nose_ridge", x_px=x, y_px=y)
        for name, (x, y) in zip(_NOSE, spots, strict=True)
    )


def read(views: Sequence[View], sighting_of: Callable[[View], Sighting]) -> Found:
    """One sitter's frames read together."""
    sightings = [sighting_of(view) for view in views]
    sitter = fit_sitter(sightings)
    sizes = head_sizes(sitter.fit.head)
    fit = sitter.fit
    spreads = size_spreads(
        fit.frames[0].shape,
        fit.shape_covariance,
        size_share=fit.size_share,
        eye_ratio_spread=fit.eye_ratio_spread,
    )
    ratio = sizes["eye_opening_ratio"]
    return Found(
        read=np.array([sizes["nose_lean_mm"], np.log(ratio)]),
        true=_truth(views),
        sigma=np.array([spreads["nose_lean_mm"], spreads["eye_opening_ratio"] / ratio]),
    )


def _truth(views: Sequence[View]) -> Array:
    sizes = [head_sizes(_true_head(view)) for view in views]
    shapes = [view.face.blendshapes for view in views]
    looks = [max(s["eyeBlinkLeft"], s["eyeBlinkRight"]) <= BLINK for s in shapes]
    chosen = [size for size, open_ in zip(sizes, looks, strict=True) if open_] or sizes
    openings = np.median(
        [[s[f"eye_opening_{side}_mm"] for side in ("own_left", "own_right")] for s in chosen],
        axis=0,
    )
    return np.array([sizes[0]["nose_lean_mm"], np.log(openings[0] / openings[1])])


def _true_head(view: View) -> Head:
    return head_from_values(
        load_template(), view.shape.astype(np.float32), view.expression.astype(np.float32)
    )


def print_row(name: str, found: Sequence[Found]) -> None:
    """Side right, typical error, and how often the truth lies in the stated nine-in-ten band."""
    read_, true, sigma = (
        np.stack([getattr(each, field) for each in found]) for field in ("read", "true", "sigma")
    )
    cells = []
    for column, least, unit in ((0, LEAN_MM, 1.0), (1, np.log1p(UNEVEN), 100.0)):
        large = np.abs(true[:, column]) > least
        right = np.sign(read_[large, column]) == np.sign(true[large, column])
        off = np.abs(read_ - true)[:, column]
        cells += [
            f"{right.sum()} of {large.sum()}",
            f"{unit * off.mean():.1f}",
            f"{unit * off[large].mean():.1f}",
            f"{100 * np.mean(off < 1.645 * sigma[:, column]):.0f} %",
        ]
    print(f"| {name} | {' | '.join(cells)} |")


def main() -> None:
    """Make the pictures and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--heads", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1907)
    arguments = parser.parse_args()
    views = [
        dataclasses.replace(view, found=look_at(rgb, view.face.landmarks_px, view.sighting))
        for view, rgb in make_pictures(arguments.heads, 3, arguments.seed, SIZE_PX)
    ]
    print(f"{len(views)} of {3 * arguments.heads} pictures, {SIZE_PX} pixels\n")
    print(
        "| | lean > 2 mm: side right | error, mm | error of leans > 2 mm | in 90 % band "
        "| eyes > 8 %: side right | error, % | error of differences > 8 % | in 90 % band |"
    )
    print("|---" * 9 + "|")
    rows: dict[str, Callable[[View], Sighting]] = {
        "landmarks alone": landmarks_only,
        "with lid edges from the picture": with_lids,
        "with what the picture shows (as it is read)": as_read,
        "lid edges and four marks placed on the nose": lids_and_placed,
        "as it is read, and four marks placed on the nose": read_and_placed,
    }
    sitters = [list(own) for _, own in groupby(views, key=lambda view: view.head)]
    for name, sighting_of in rows.items():
        print_row(name, [read(own, sighting_of) for own in sitters])


if __name__ == "__main__":
    main()
