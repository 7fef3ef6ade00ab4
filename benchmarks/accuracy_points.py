"""How well the nose, the corners of eyes and mouth, and the hairline are found in pictures.

Run from the repository: ``python -m benchmarks.accuracy_points --keep FOLDER``. Three kinds of
pictures, none of which the net learned from: more of those it was taught with
(``builders/points_pictures.py``), the plainly shaded heads of ``builders/face_views.py``, and the
sitters of another kind of ``builders/other_sittings.py``, which lie in the folder.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.face_views import make_pictures
from builders.other_sittings import read_sittings
from builders.points_pictures import make_points_picture
from sitwell.brief.photos import open_photo
from sitwell.face.landmarks import LANDMARK_SIDE_PX, find_faces
from sitwell.face.points import MM_PER_PX, NAMES, PointsSeen, look, see_points
from sitwell.head.pose import HeadPose, project, upright_axes
from sitwell.head.seen_points import HAIRLINE_OFF_MM, HAIRLINE_SURE_MM, LEAST_MM, SURE_MM
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template

Array = NDArray[np.float64]
TONES = (0.08, 0.25)  # mean linear reflectance between deep, middle and light skin
MOST_TURN_DEG = 45.0
RIGHT_MM, HAIRLINE_RIGHT_MM = 2.0, 10.0
STEMS = ("nose_root", "nose_ridge", "nose_tip", "nose_base", "nose_wing", "eye_", "mouth_corner")
LINE = NAMES.index("hairline")
_SEED = 135_790  # none that a limit was set on
_FRINGE_SHARE = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Off (P, 2) and spread (P, 2) of the points in mm, across and up; nan where covered."""

    off_mm: Array
    spread_mm: Array
    tone: float
    hair: str
    line_hidden: bool


def taught_kind(count: int) -> Iterator[Case]:
    """More pictures of the kind the net learned from, other seeds."""
    for index in range(count):
        picture = make_points_picture(np.random.default_rng((_SEED, index)))
        if abs(picture.turn_deg) > MOST_TURN_DEG:
            continue
        places, covariance = look(picture.rgb)
        off = (places - picture.places) * MM_PER_PX
        off[picture.covered & (np.arange(len(NAMES)) != LINE)] = np.nan
        if not np.isfinite(picture.line_mm):
            off[LINE] = np.nan  # bald: no hairline to be right about
        spread = np.sqrt(np.einsum("pii->pi", covariance)) * MM_PER_PX
        yield Case(
            off_mm=off, spread_mm=_stated(spread), tone=picture.tone, hair=picture.style,
            line_hidden=bool(picture.covered[LINE]),
        )  # fmt: skip


def plain_kind(count: int) -> Iterator[Case]:
    """Plainly shaded heads with painted hair."""
    for view, rgb in make_pictures(max(1, count // 3), 3, _SEED, 896):
        if abs(view.pose.seen_deg[0]) < MOST_TURN_DEG:
            head = head_from_values(
                load_template(), view.shape.astype(np.float32), view.expression.astype(np.float32)
            )
            seen = see_points(rgb, view.face.landmarks_px)
            yield _case(
                seen, head, view.pose, view.focal.px, view.sighting.centre_px, float("nan"),
                "painted", line_hidden=False,
            )  # fmt: skip


def other_kind(folder: Path, count: int) -> Iterator[Case]:
    """Sitters of another kind by another renderer, as their files are opened."""
    for sitting in read_sittings(folder, count):
        for shot in sitting.shots:
            photo = open_photo(
                sitting.folder / shot.file, largest_side_px=LANDMARK_SIDE_PX,
                focal_35_mm=sitting.focal_35_mm,
            )  # fmt: skip
            faces = find_faces(photo)
            if not faces or abs(shot.turn_deg) > MOST_TURN_DEG:
                continue
            seen = see_points(photo.rgb, faces[0].landmarks_px / photo.px_per_rgb_px)
            covers = shot.covers
            yield _case(
                seen, sitting.face.pulled(shot.pulled), shot.pose,
                photo.focal.px / photo.px_per_rgb_px,
                np.array([photo.width_px, photo.height_px]) / 2.0 / photo.px_per_rgb_px,
                sitting.tone, sitting.hair,
                line_hidden=covers["hat"] > 0 or covers["hair-over-brows"] > _FRINGE_SHARE,
            )  # fmt: skip


def _case(
    seen: PointsSeen, head: Head, pose: HeadPose, focal_px: float, centre_px: Array, tone: float,
    hair: str, *, line_hidden: bool,
) -> Case:  # fmt: skip
    true = project(np.array([head.point(name) for name in NAMES]), pose, focal_px, centre_px)
    to_mm = upright_axes(pose.seen_deg[2]) * -pose.place_mm[2] / focal_px
    crop_to_mm = to_mm @ seen.crop.axes_px.T
    covariance = crop_to_mm @ seen.covariance @ crop_to_mm.T
    off = (seen.crop.to_picture(seen.places) - true) @ to_mm.T
    if hair == "bald":
        off[LINE] = np.nan
    return Case(
        off_mm=off, spread_mm=_stated(np.sqrt(np.einsum("pii->pi", covariance))), tone=tone,
        hair=hair, line_hidden=line_hidden,
    )  # fmt: skip


def _stated(spread_mm: Array) -> Array:
    """Spreads as the reading states them."""
    stated = np.maximum(spread_mm, LEAST_MM)
    stated[LINE] = np.hypot(stated[LINE], HAIRLINE_OFF_MM)
    return stated


def print_points(cases: Sequence[Case]) -> None:
    """Of each kind of point and direction: how often it is sure, and how far off it then is."""
    off, spread = (np.stack([getattr(c, f) for c in cases]) for f in ("off_mm", "spread_mm"))
    print(f"| point | sure | right to {RIGHT_MM:g} mm | root mean square, mm | in its 90 % band |")
    print("|---" * 5 + "|")
    for stem in STEMS:
        own = [i for i, name in enumerate(NAMES) if name.startswith(stem)]
        for axis, way in enumerate(("across", "up")):
            if way == "up" and stem in ("nose_root", "nose_ridge"):
                continue
            error, sigma = off[:, own, axis].ravel(), spread[:, own, axis].ravel()
            bare = np.isfinite(error)
            sure = bare & (sigma < SURE_MM)
            print(f"| {stem} {way} | {_cells(error, sigma, bare, sure, RIGHT_MM)} |")


def print_hairline(cases: Sequence[Case]) -> None:
    """Of the hairlines in view: how often one is offered, and how far off; and of hidden ones."""
    off = np.array([case.off_mm[LINE, 1] for case in cases])
    sigma = np.array([case.spread_mm[LINE, 1] for case in cases])
    hidden = np.array([case.line_hidden for case in cases])
    grown, sure = np.isfinite(off), sigma < HAIRLINE_SURE_MM
    shown = grown & ~hidden
    print(f"| hairline | {_cells(off, sigma, shown, shown & sure, HAIRLINE_RIGHT_MM)} |")
    for name, chosen in (("under something", grown & hidden), ("on a bald head", ~grown)):
        said = chosen & sure
        right = np.abs(off[said & grown]) < HAIRLINE_RIGHT_MM
        print(f"hairline {name}: offered {said.sum()} of {chosen.sum()}, right {right.sum()}")
    styles = sorted({case.hair for case in cases})
    for style in styles if len(styles) > 1 else ():
        own = shown & np.array([case.hair == style for case in cases])
        print(f"| {style} | {_cells(off, sigma, own, own & sure, HAIRLINE_RIGHT_MM)} |")


def _cells(off: Array, sigma: Array, all_: Array, sure: Array, right_mm: float) -> str:
    error = np.abs(off[sure])
    if not len(error):
        return f"0 of {all_.sum()} | - | - | -"
    return (
        f"{sure.sum()} of {all_.sum()} | {100 * np.mean(error < right_mm):.0f} % | "
        f"{np.sqrt(np.mean(error**2)):.2f} | {100 * np.mean(error < 1.645 * sigma[sure]):.0f} %"
    )


def report(name: str, cases: Sequence[Case]) -> None:
    """All tables of one kind, and by skin where it is known."""
    print(f"## {name}: {len(cases)} pictures\n")
    print_points(cases)
    print_hairline(cases)
    print()


def main() -> None:
    """Make or open the pictures, look at them and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=300)
    parser.add_argument("--keep", type=Path, help="the folder of other sitters' pictures")
    parser.add_argument("--sitters", type=int, default=24)
    arguments = parser.parse_args()
    kinds = {
        "of the kind it learned from": list(taught_kind(arguments.pictures)),
        "plainly shaded": list(plain_kind(min(arguments.pictures, 120))),
    }
    if arguments.keep is not None:
        kinds["of another kind"] = list(other_kind(arguments.keep, arguments.sitters))
    for name, cases in kinds.items():
        report(name, cases)
        for number, tone in enumerate(("deep", "middle", "light")):
            own = [c for c in cases if np.isfinite(c.tone) and np.digitize(c.tone, TONES) == number]
            if own:
                report(f"{name}, {tone} skin", own)


if __name__ == "__main__":
    main()
