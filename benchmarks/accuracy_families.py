"""How well two families of heads are read: our own sliders, and components of scans of people.

Run from the repository: ``python -m benchmarks.accuracy_families ARRAYS --keep FOLDER`` (the second
family's arrays), or without ARRAYS for our own. The pictures are drawn by
``builders/families/quick_sittings.py`` where the folder lacks them. Angles are compared after each
head's own offset, the median over its frames, is taken off each way of reading.
"""

import argparse
import dataclasses
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.accuracy_ears import LEAST_SHARE, LOOKED_AT_DEG, ears_of, gone_at_deg
from benchmarks.other_rows import BAND, PNP, READ, plain_bias
from builders.families.quick_sittings import draw_sittings
from builders.traced.faces import with_vertices
from builders.traced.sittings import Shot, Sitting, read_sittings
from sitwell.base.errors import FaceError
from sitwell.base.rotations import direction_from_angles, seen_pose
from sitwell.head.pose import pose_quick
from sitwell.head.reading import FrameReading, read_photos
from sitwell.head.report import reading_as_dict
from sitwell.head.seen_features import marks_beside
from sitwell.head.sitter import fit_sitter
from sitwell.head.sizes import head_sizes
from sitwell.head.spread import FrameSpread
from sitwell.head.surface import Head, build_head
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import Setup

Array = NDArray[np.float64]
ONE, OWN = "one frame", "the landmarker's own matrix"
BANDS_DEG = ((0.0, 20.0), (20.0, 45.0), (45.0, 70.0))
NOSE_TURNS_DEG = np.arange(0.0, 66.0, 3.0)
TAPE_MM = 0.5  # how exactly an interpupillary distance is told


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One frame: errors (3,) of turn, chin and tilt by method, its head's number, and whether each
    stated value's truth lies in its band. ``key_deg`` is read less true azimuth and elevation and
    the whole angle; ``far`` read over true distance, with the true pupils in ``far_told``.
    """

    head: int
    turn_deg: float
    errors: Mapping[str, Array]
    inside: Mapping[str, bool]
    spread_deg: Array
    far: float
    far_told: float
    key_deg: tuple[float, float, float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadRow:
    """One head: lengths read, true and their sigmas; what a turn does, read less true."""

    read: Mapping[str, float | None]
    true: Mapping[str, float]
    sigma: Mapping[str, float | None]
    nose_deg: Array
    shares_off: Array
    gone_deg: Array


def read_head(number: int, sitting: Sitting) -> tuple[list[Row], HeadRow] | None:
    """Read one sitter's frames together and each by itself; None where no face was found."""
    files = [sitting.folder / shot.file for shot in sitting.shots]
    try:
        reading = read_photos(files, focal_35_mm=sitting.focal_35_mm)
        fitted = reading.require_head()
    except FaceError:
        return None
    said, truth = reading_as_dict(reading), sitting.face.head
    true = head_sizes(truth)
    told = true["interpupillary_mm"] / float(said["head"]["interpupillary_mm"])
    rows = [
        _row(number, shot, frame, row, told)
        for shot, frame, row in zip(sitting.shots, reading.frames, said["frames"], strict=True)
        if frame.pose is not None
    ]
    shares, gone = _ears(truth, fitted)
    # both heads at the size of the truth: shares and turns don't depend on it, distances do
    fitted = with_vertices(fitted, told * fitted.vertices_mm.astype(np.float64))
    head = HeadRow(
        read=said["head"],
        true=true,
        sigma=said["head_spread"],
        nose_deg=np.subtract(nose_breaks_deg(fitted), nose_breaks_deg(truth)),
        shares_off=shares,
        gone_deg=gone,
    )
    return rows, head


def _row(number: int, shot: Shot, frame: FrameReading, said: Mapping[str, Any], told: float) -> Row:
    pose, sighting = frame.pose, frame.sighting
    if pose is None or sighting is None or frame.face is None:
        raise SystemExit("Only frames with a face are compared.")
    seen = np.array([shot.turn_deg, shot.chin_deg, shot.tilt_deg])
    beside = marks_beside((), frame.found, frame.obscured)
    one = fit_sitter([dataclasses.replace(sighting, marks=(*frame.lids, *beside))]).frames[0]
    plain = pose_quick(build_head(), dataclasses.replace(sighting, marks=()), bias=plain_bias())
    matrix = np.asarray(frame.face.matrix)
    own = matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3]))
    angles = {
        ONE: one.pose.seen_deg,
        READ: pose.seen_deg,
        PNP: plain.seen_deg,
        OWN: seen_pose(own, np.zeros(3), matrix[:3, 3]),
    }
    far = said["distance_mm"] / shot.distance_mm
    inside = {
        "distance": abs(said["distance_mm"] - shot.distance_mm) < BAND * said["distance_spread_mm"]
    }
    key = _key_off(shot, said)
    if key is not None:
        inside["key azimuth"] = abs(key[0]) < BAND * said["key_spread_deg"]
        inside["key elevation"] = abs(key[1]) < BAND * said["key_spread_deg"]
    fitted = frame.fitted
    return Row(
        head=number,
        turn_deg=shot.turn_deg,
        errors={name: np.array(each) - seen for name, each in angles.items()},
        inside=inside,
        spread_deg=np.array(
            [_angles(one.spread), _angles(fitted.spread if fitted else one.spread)]
        ),
        far=far,
        far_told=far * told,
        key_deg=key,
    )


def _angles(spread: FrameSpread) -> tuple[float, float, float]:
    return spread.turn_deg, spread.chin_deg, spread.tilt_deg


def _key_off(shot: Shot, said: Mapping[str, Any]) -> tuple[float, float, float, float] | None:
    azimuth_deg, elevation_deg = said["key_azimuth_deg"], said["key_elevation_deg"]
    if azimuth_deg is None:
        return None
    read = direction_from_angles(azimuth_deg, elevation_deg)
    true = direction_from_angles(shot.key_azimuth_deg, shot.key_elevation_deg)
    across = np.cos(np.radians(shot.key_elevation_deg))
    return (
        float((azimuth_deg - shot.key_azimuth_deg) * across),
        float(elevation_deg - shot.key_elevation_deg),
        float(np.degrees(np.arccos(np.clip(read @ true, -1.0, 1.0)))),
        float(said["key_spread_deg"]),
    )


def nose_breaks_deg(head: Head) -> list[float]:
    """The turn to either side at which the nose's outline meets the far cheek's; nan if never."""
    column, evaluator, turns = NAMES.index("nose_break_cheek"), Evaluator(head), []
    for sign in (1.0, -1.0):
        clear = np.array(
            [evaluator.evaluate(Setup(turn_deg=sign * turn))[column] for turn in NOSE_TURNS_DEG]
        )
        past = np.flatnonzero(clear < 0.0)
        if not len(past) or past[0] == 0:
            turns.append(float("nan"))
            continue
        last = past[0]
        share = clear[last - 1] / (clear[last - 1] - clear[last])
        turns.append(float(NOSE_TURNS_DEG[last - 1] + share))
    return turns


def _ears(truth: Head, fitted: Head) -> tuple[Array, Array]:
    """How far visible shares are off (n,), and turns that hide each ear (2,), read less true."""
    seen, read = ears_of(truth), ears_of(fitted)
    shown, found = (each[:, LOOKED_AT_DEG, 0] for each in (seen, read))
    off = found / np.where(shown > 0.0, shown, 1.0) - 1.0
    return off[shown >= LEAST_SHARE], np.subtract(gone_at_deg(read), gone_at_deg(seen))


def without_offsets(rows: Sequence[Row]) -> list[Row]:
    """The rows with each head's own offset taken off every method's errors."""
    made = []
    for row in rows:
        own = [r for r in rows if r.head == row.head and abs(r.turn_deg) < BANDS_DEG[1][1]]
        offset = {
            name: np.median([r.errors[name] for r in own or [row]], axis=0) for name in row.errors
        }
        errors = {name: row.errors[name] - offset[name] for name in row.errors}
        made.append(dataclasses.replace(row, errors=errors))
    return made


def print_angles(rows: Sequence[Row]) -> None:
    """Mean absolute errors by method and turn, and how often truths lie in the 90 % band."""
    bands = [[r for r in rows if low <= abs(r.turn_deg) < high] for low, high in BANDS_DEG]
    print("| turn / chin / tilt, deg | 0-20 | 20-45 | 45-70 |\n|---|---|---|---|")
    print(f"| frames with a face | {' | '.join(str(len(band)) for band in bands)} |")
    for name in (ONE, READ, PNP, OWN):
        print(f"| {name} | {' | '.join(_mean(band, name) for band in bands)} |")
    for index, name in enumerate((ONE, READ)):
        print(f"| in the 90 % band, {name} | {' | '.join(_in(b, name, index) for b in bands)} |")


def _mean(rows: Sequence[Row], name: str) -> str:
    if not rows:
        return "-"
    return " / ".join(f"{v:.2f}" for v in np.mean([np.abs(r.errors[name]) for r in rows], axis=0))


def _in(rows: Sequence[Row], name: str, index: int) -> str:
    if not rows:
        return "-"
    inside = [np.abs(r.errors[name]) < BAND * r.spread_deg[index] for r in rows]
    return " / ".join(f"{100 * v:.0f}" for v in np.mean(inside, axis=0))


def print_bands(rows: Sequence[Row], heads: Sequence[HeadRow]) -> None:
    """Every other stated value: mean error, and how often the truth lies in its band."""
    inside: dict[str, list[bool]] = {}
    off: dict[str, list[float]] = {}
    slopes: dict[str, tuple[list[float], list[float]]] = {}
    for row in rows:
        for name, is_inside in row.inside.items():
            inside.setdefault(name, []).append(is_inside)
    for head in heads:
        for name, sigma in head.sigma.items():
            read = head.read[name]
            if read is not None and sigma is not None:
                inside.setdefault(name, []).append(abs(read - head.true[name]) < BAND * sigma)
                off.setdefault(name, []).append(read - head.true[name])
                pair = slopes.setdefault(name, ([], []))
                pair[0].append(head.true[name])
                pair[1].append(read)
    print("\n| value | in its 90 % band | of | mean error | mean | read on true |")
    print("|---|---|---|---|---|---|")
    for name, each in inside.items():
        wrong = off.get(name)
        tail = "| | |"
        if wrong:
            slope = np.polyfit(*slopes[name], 1)[0]
            tail = f"{np.mean(np.abs(wrong)):.2f} | {np.mean(wrong):+.2f} | {slope:.2f}"
        print(f"| {name} | {100 * np.mean(each):.0f} % | {len(each)} | {tail} |")


def print_rest(rows: Sequence[Row], heads: Sequence[HeadRow]) -> None:
    """Distances, keys, the nose at the cheek, the ears."""
    for name, far in (
        ("", [r.far for r in rows]),
        (" with the pupils told", [r.far_told for r in rows]),
    ):
        share = 100 * (np.array(far) - 1.0)
        print(
            f"\ndistance{name}: off by {np.mean(np.abs(share)):.1f} %, mean {share.mean():+.1f} %"
        )
    keys = np.array([r.key_deg for r in rows if r.key_deg is not None])
    lost = keys[:, 2] > 3.0 * BAND * keys[:, 3]
    print(
        f"key: {len(keys)} of {len(rows)} told, median error {np.median(keys[:, 2]):.1f} deg, nine "
        f"in ten {np.percentile(keys[:, 2], 90):.0f}, elevation {keys[:, 1].mean():+.1f} in the "
        f"mean, {lost.sum()} beyond three times the band, worst {keys[:, 2].max():.0f}"
    )
    nose = np.concatenate([head.nose_deg for head in heads])
    nose = nose[np.isfinite(nose)]
    print(
        f"nose at the cheek: {nose.mean():+.1f} deg in the mean, off by {np.abs(nose).mean():.1f}, "
        f"within 2 deg in {100 * (np.abs(nose) <= 2.0).mean():.0f} % of {len(nose)} sides"
    )
    shares = np.abs(np.concatenate([head.shares_off for head in heads]))
    gone = np.concatenate([head.gone_deg for head in heads])
    gone = np.abs(gone[np.isfinite(gone)])
    print(
        f"ears: visible share off by {100 * np.median(shares):.0f} % in the median, within 15 % in "
        f"{100 * (shares < 0.15).mean():.0f} %; turn that hides one within 2 deg in "
        f"{100 * (gone <= 2.0).mean():.0f} % of {len(gone)}"
    )


def main() -> None:
    """Draw the pictures that are missing, read all, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("arrays", type=Path, nargs="?", help="the second family's arrays")
    parser.add_argument("--faces", type=int, default=24)
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--keep", type=Path, help="the folder of the pictures, kept for next time")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        folder = arguments.keep or Path(passing)
        draw_sittings(folder, arguments.faces, arguments.seed, arguments.arrays)
        sittings = read_sittings(folder, arguments.faces)
        read = [each for n, s in enumerate(sittings) if (each := read_head(n, s)) is not None]
    rows = without_offsets([row for own, _ in read for row in own])
    heads = [head for _, head in read]
    print(f"{len(heads)} of {arguments.faces} sitters\n")
    print_angles(rows)
    print_bands(rows, heads)
    print_rest(rows, heads)


if __name__ == "__main__":
    main()
