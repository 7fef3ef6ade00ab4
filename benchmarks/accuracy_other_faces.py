"""How well faces of another kind are read: shapes our head can't make, another renderer.

Run from the repository: ``python -m benchmarks.accuracy_other_faces --keep FOLDER``. Pictures that
lie in the folder are read again; missing ones are made first (``builders/traced/sittings.py``, a
minute and a half for a face). Prints the tables that docs/reading.md quotes. Angles count from each
sitter's own level frame, as on a set.
"""

import argparse
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.other_rows import (
    BAND,
    HAIR_OVER_EARS,
    OPEN_EAR,
    READ,
    THINGS,
    FrameRow,
    SitterRow,
    is_there,
    read_sitting,
)
from builders.traced.sittings import make_sittings, read_sittings

Array = NDArray[np.float64]
BANDS_DEG = ((0.0, 20.0), (20.0, 45.0), (45.0, 70.0))
TONES = (0.08, 0.25)  # mean linear reflectance between deep, middle and light skin
LEAN_MM, UNEVEN = 2.0, 0.08
GROUPS: dict[str, Callable[[SitterRow], str]] = {
    "skin": lambda row: ("deep", "middle", "light")[int(np.digitize(row.sitting.tone, TONES))],
    "drawn from": lambda row: _more(row.sitting.face.female_share, "female", "male"),
    "drawn age": lambda row: _more(row.sitting.face.old_share, "old", "young"),
    "glasses": lambda row: _yes(row.wears("glasses")),
    "beard": lambda row: _yes(row.wears("beard")),
    "hat": lambda row: _yes(row.wears("hat")),
    "hair over an ear": lambda row: _yes(row.wears(HAIR_OVER_EARS)),
}


def _more(share: float, first: str, second: str) -> str:
    return f"more {first}" if share > 0.5 else f"more {second}"


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"


def print_angles(rows: Sequence[SitterRow]) -> None:
    """Errors by method and turn; the level frames themselves, which count as 0, are left out."""
    turned = [frame for row in rows for frame in row.frames if not frame.level]
    bands = [[f for f in turned if low <= f.turn_deg < high] for low, high in BANDS_DEG]
    print("| turn / chin / tilt, deg, from the own level frame | 0-20 | 20-45 | 45-70 |")
    print("|---|---|---|---|")
    found = [f"{sum(f.errors is not None for f in band)} of {len(band)}" for band in bands]
    print(f"| faces found | {' | '.join(found)} |")
    for name in next(f.errors for f in turned if f.errors is not None):
        cells = (_mean_errors(band, name) for band in bands)
        print(f"| {name} | {' | '.join(cells)} |")


def _mean_errors(frames: Sequence[FrameRow], method: str) -> str:
    errors = [np.abs(f.errors[method]) for f in frames if f.errors is not None]
    return " / ".join(f"{v:.1f}" for v in np.mean(errors, axis=0)) if errors else "-"


def print_bands(rows: Sequence[SitterRow]) -> None:
    """How often the truth lies in the stated nine-in-ten band, for every stated value."""
    inside: dict[str, list[bool]] = {}
    for row in rows:
        for frame in row.frames:
            for name, is_inside in frame.inside.items():
                inside.setdefault(name, []).append(is_inside)
        for name, sigma in row.sigma.items():
            read = row.read[name]
            if read is not None and sigma is not None:
                off = abs(read - row.true[name])
                inside.setdefault(name, []).append(off < BAND * sigma)
    print("\n| value | truth in its 90 % band | of |\n|---|---|---|")
    for name, each in inside.items():
        print(f"| {name} | {100 * np.mean(each):.0f} % | {len(each)} |")


def print_rest(rows: Sequence[SitterRow]) -> None:
    """Distance and light, lean and eyes, ears."""
    frames = [frame for row in rows for frame in row.frames]
    far = np.array([frame.far_share for frame in frames])
    told = np.array([frame.far_told_share for frame in frames])
    print(
        f"\ndistance: mean error {100 * np.nanmean(far):.1f} %, "
        f"with the true distance between the pupils {100 * np.nanmean(told):.1f} %"
    )
    keys = np.array([frame.key_deg for frame in frames if frame.key_deg is not None])
    azimuth, elevation, whole = np.median(keys, axis=0)
    print(
        f"key: median error {whole:.0f} deg (azimuth {azimuth:.0f}, elevation {elevation:.0f}), "
        f"nine in ten within {np.percentile(keys[:, 2], 90):.0f} deg; stated for {len(keys)} of "
        f"{sum(frame.errors is not None for frame in frames)} frames"
    )
    _print_sides("nose lean", rows, _lean, LEAN_MM, "mm", 1.0)
    _print_sides("eyes' openings", rows, _uneven, float(np.log1p(UNEVEN)), "%", 100.0)
    _print_ears(rows)


def _lean(values: dict[str, float]) -> float:
    return values["nose_lean_mm"]


def _uneven(values: dict[str, float]) -> float:
    return float(np.log(values["eye_opening_ratio"]))


def _print_sides(
    name: str,
    rows: Sequence[SitterRow],
    of: Callable[[dict[str, float]], float],
    least: float,
    unit: str,
    by: float,
) -> None:
    pairs = [
        (of(dict(row.read)), of(dict(row.true)))  # type: ignore[arg-type]
        for row in rows
        if row.read["nose_lean_mm"] is not None and row.read["eye_opening_ratio"] is not None
    ]
    read, true = np.array(pairs).T
    large = np.abs(true) > least
    right = np.sign(read[large]) == np.sign(true[large])
    slope = float(true @ read / (true @ true))
    print(
        f"{name}: of {large.sum()} beyond {by * least:.0f} {unit}, side right {right.sum()}; mean "
        f"error {by * np.abs(read - true).mean():.1f} {unit} over all {len(read)}, "
        f"{by * np.abs(read - true)[large].mean():.1f} {unit} of those; read / true {slope:.2f}"
    )


def _print_ears(rows: Sequence[SitterRow]) -> None:
    bare = [row.ears_shown > OPEN_EAR for row in rows]
    shares = np.concatenate([r.shares_off[own].ravel() for r, own in zip(rows, bare, strict=True)])
    turns = np.concatenate([r.turns_off_deg[own] for r, own in zip(rows, bare, strict=True)])
    shares, turns = shares[np.isfinite(shares)], turns[np.isfinite(turns)]
    print(
        f"{np.sum(bare)} bare ears: visible share off by {100 * np.median(shares):.0f} % in the "
        f"median, within 15 % in {100 * (shares < 0.15).mean():.0f} % of {len(shares)}; turn that "
        f"hides the far ear off by {np.median(turns):.0f} deg in the median, within 2 deg in "
        f"{100 * (turns <= 2.0).mean():.0f} % of {len(turns)}"
    )


def print_named(rows: Sequence[SitterRow]) -> None:
    """What in the way was named, frame by frame, where it is and where it is not."""
    frames = [(row.sitting, f) for row in rows for f in row.frames if f.errors is not None]
    print("\n| in the way | named where it is | named where it is not |\n|---|---|---|")
    for name in THINGS:
        truth = [(is_there(sitting, f.shot, name), name in f.things) for sitting, f in frames]
        there = [said for real, said in truth if real is True]
        absent = [said for real, said in truth if real is False]
        print(f"| {name} | {sum(there)} of {len(there)} | {sum(absent)} of {len(absent)} |")


def print_groups(rows: Sequence[SitterRow]) -> None:
    """The angles' errors again, by how the sitters were drawn."""
    print("\n| as it is read, turn / chin / tilt, deg | sitters | 0-20 | 20-45 | 45-70 |")
    print("|---|---|---|---|---|")
    for name, group_of in GROUPS.items():
        for group in sorted({group_of(row) for row in rows}):
            own = [row for row in rows if group_of(row) == group]
            turned = [f for row in own for f in row.frames if not f.level]
            cells = [
                _mean_errors([f for f in turned if low <= f.turn_deg < high], READ)
                for low, high in BANDS_DEG
            ]
            print(f"| {name}: {group} | {len(own)} | {' | '.join(cells)} |")


def print_frames(rows: Sequence[SitterRow]) -> None:
    """Every frame's errors, worst first, to see where they come from."""
    lines = []
    for row in rows:
        worn = ",".join(t for t in (*THINGS[:6], HAIR_OVER_EARS) if row.wears(t))
        worn += f" {row.sitting.hair} tone {row.sitting.tone:.2f}"
        for frame in row.frames:
            errors = frame.errors or {}
            cells = "  ".join(
                f"{name}: " + " ".join(f"{v:+5.1f}" for v in errors[name]) for name in errors
            )
            where = f"{row.sitting.folder.name}/{frame.shot.file} turn {frame.turn_deg:4.0f}"
            pulled = ",".join(f"{name} {v:.1f}" for name, v in frame.shot.pulled.items())
            seen = ",".join(sorted(frame.things)) + " left out" * frame.left_out
            worst = max((float(np.abs(errors[READ]).max()) if errors else np.inf), 0.0)
            lines.append((-worst, f"{where}  {cells}  seen: {seen} (worn: {worn}) {pulled}"))
    print(*(line for _, line in sorted(lines)), sep="\n")


def read_all(folder: Path, faces: int) -> list[SitterRow]:
    """Read every sitting in a folder; those whose level frame shows no face are left out."""
    return [row for s in read_sittings(folder, faces) if (row := read_sitting(s)) is not None]


def main() -> None:
    """Make the pictures that are missing, read all, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheel", type=Path, help="the source wheel, if it is at hand")
    parser.add_argument("--faces", type=int, default=24)
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--keep", type=Path, help="the folder of the pictures, kept for next time")
    parser.add_argument("--each", action="store_true", help="print every frame's errors as well")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        folder = arguments.keep or Path(passing)
        make_sittings(folder, arguments.faces, arguments.seed, arguments.wheel)
        rows = read_all(folder, arguments.faces)
    print(f"{len(rows)} of {arguments.faces} sitters, {len(rows[0].frames)} frames each\n")
    print_angles(rows)
    print_bands(rows)
    print_rest(rows)
    print_named(rows)
    print_groups(rows)
    if arguments.each:
        print_frames(rows)


if __name__ == "__main__":
    main()
