"""How well faces of another kind are read: shapes our head can't make, another renderer.

Run from the repository: ``python -m benchmarks.accuracy_other_faces`` (some minutes); prints the
tables that docs/reading.md quotes. Angles count from each face's own level frame, as on a set;
beside ours stand the landmarker's own matrix and plain least squares on the mean head.
"""

import argparse
import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import mitsuba
import numpy as np
from numpy.typing import NDArray

from builders.face_views import focal_of
from builders.head_source import read_source
from builders.other_faces import FACE_SHARE, SIZE_PX, TURN_BANDS_DEG, Shot, mixed_faces, sitting
from builders.reference_scene import VARIANT
from sitwell.base.rotations import direction_from_angles
from sitwell.face.lids import find_lids
from sitwell.face.parts import see_parts
from sitwell.head.bias import LandmarkBias, load_bias
from sitwell.head.pose import HeadPose, Sighting, pose_quick
from sitwell.head.seen_lids import lid_marks
from sitwell.head.seen_parts import find_parts
from sitwell.head.shading import read_light
from sitwell.head.sitter import fit_sitter
from sitwell.head.surface import build_head, head_from_values
from sitwell.head.template import load_template

Array = NDArray[np.float64]
BANDS_DEG = ((0.0, 20.0), (20.0, 45.0), (45.0, 70.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One turned frame: true turn, errors in degrees by method, and what else was read."""

    turn_deg: float
    errors: dict[str, Array] | None
    in_band: Array | None
    distance_error: float
    key_error_deg: float


def read_sitting(shots: Sequence[Shot]) -> list[Row]:
    """The frames of one face, all read together; the first is the level one."""
    seen = [shot for shot in shots if shot.sighting is not None]
    if not seen or seen[0] is not shots[0]:
        return []
    as_read = [_as_read(shot) for shot in seen]
    sitter, earless = (fit_sitter(frames) for frames in (as_read, list(map(_earless, as_read))))
    fitted = dict(zip(map(id, seen), zip(sitter.frames, earless.frames, strict=True), strict=True))
    level_pose = {
        "fit of the frames together": sitter.frames[0].pose,
        "the same without the ears' edges": earless.frames[0].pose,
        "mean head, plain least squares": _plain_pose(seen[0]),
        "the landmarker's own matrix": _own_pose(seen[0]),
    }
    rows = []
    for shot in shots[1:]:
        turn_deg = abs(shot.pose.seen_deg[0])
        if id(shot) not in fitted:
            rows.append(_unseen(turn_deg))
            continue
        frame, without = fitted[id(shot)]
        found = (frame.pose, without.pose, _plain_pose(shot), _own_pose(shot))
        poses = dict(zip(level_pose, found, strict=True))
        errors = {
            name: _from_level(pose, level_pose[name]) - shot.pose.seen_deg
            for name, pose in poses.items()
        }
        sigma = np.array([frame.spread.turn_deg, frame.spread.chin_deg, frame.spread.tilt_deg])
        straight = np.abs(np.array(frame.pose.seen_deg) - shot.pose.seen_deg)
        far = np.log(frame.pose.distance_mm / shot.pose.distance_mm)
        band = 1.645 * frame.spread.distance_mm / frame.pose.distance_mm
        rows.append(
            Row(
                turn_deg=turn_deg,
                errors=errors,
                in_band=np.r_[straight < 1.645 * sigma, abs(far) < band],
                distance_error=abs(far),
                key_error_deg=_key_error(shot, frame.pose, frame.shape, frame.expression),
            )
        )
    return rows


def _unseen(turn_deg: float) -> Row:
    nothing = float("nan")
    return Row(
        turn_deg=turn_deg, errors=None, in_band=None, distance_error=nothing, key_error_deg=nothing
    )


def _as_read(shot: Shot) -> Sighting:
    """The frame with the lids' and ears' edges that its picture shows."""
    if shot.sighting is None:
        raise SystemExit("Only frames with a face can be fitted.")
    lids = find_lids(shot.rgb, shot.sighting.landmarks_px)
    found = find_parts(see_parts(shot.rgb, shot.sighting.landmarks_px), shot.sighting)
    marks = (*lid_marks(lids, shot.sighting), *found.marks)
    return dataclasses.replace(shot.sighting, marks=marks)


def _earless(sighting: Sighting) -> Sighting:
    marks = tuple(mark for mark in sighting.marks if not mark.name.startswith("ear"))
    return dataclasses.replace(sighting, marks=marks)


def _from_level(pose: HeadPose, level: HeadPose) -> Array:
    """Seen angles counted from the level frame's rotation."""
    turned = HeadPose(rotation=pose.rotation @ level.rotation.T, place_mm=pose.place_mm)
    return np.array(turned.seen_deg)


def plain_bias() -> LandmarkBias:
    """No learned errors: every landmark alike and by itself."""
    learned = load_bias()
    size = len(learned.directions)
    return dataclasses.replace(
        learned,
        offset=np.zeros_like(learned.offset),
        answer=np.zeros((size, size)),
        by_frame=np.eye(size),
        by_sitter=np.zeros((size, size)),
    )


def _plain_pose(shot: Shot) -> HeadPose:
    if shot.sighting is None:
        raise SystemExit("Only frames with a face have a pose.")
    return pose_quick(build_head(), shot.sighting, bias=plain_bias())


def _own_pose(shot: Shot) -> HeadPose:
    if shot.face is None:
        raise SystemExit("Only frames with a face have a pose.")
    matrix = np.asarray(shot.face.matrix)
    rotation = matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3]))
    # faces are in the middle of these pictures, so the line of sight is the lens's axis
    return HeadPose(rotation=rotation, place_mm=np.array([0.0, 0.0, -1500.0]))


def _key_error(shot: Shot, pose: HeadPose, shape: Array, expression: Array) -> float:
    """Angle between the key's read and true direction; nan where the light was not read."""
    head = head_from_values(
        load_template(), shape.astype(np.float32), expression.astype(np.float32)
    )
    focal = focal_of(FACE_SHARE * SIZE_PX / 160.0 * shot.pose.distance_mm, SIZE_PX)
    light = read_light(shot.rgb, head, pose, focal.px, np.array([SIZE_PX, SIZE_PX]) / 2.0)
    if light is None:
        return float("nan")
    read = direction_from_angles(light.key_azimuth_deg, light.key_elevation_deg)
    true = direction_from_angles(*shot.key_deg)
    return float(np.degrees(np.arccos(np.clip(read @ true, -1.0, 1.0))))


def print_tables(rows: Sequence[Row]) -> None:
    """Errors by method and turn, then coverage, distance and light."""
    bands = [[r for r in rows if low <= r.turn_deg < high] for low, high in BANDS_DEG]
    print("| turn / chin / tilt, deg, from the own level frame | 0-20 | 20-45 | 45-70 |")
    print("|---|---|---|---|")
    found = [f"{sum(r.errors is not None for r in band)} of {len(band)}" for band in bands]
    print(f"| faces found | {' | '.join(found)} |")
    names = next(row.errors for row in rows if row.errors is not None)
    for name in names:
        cells = []
        for band in bands:
            errors = [np.abs(row.errors[name]) for row in band if row.errors is not None]
            mean = np.mean(errors, axis=0) if errors else []
            cells.append(" / ".join(f"{value:.1f}" for value in mean) or "-")
        print(f"| {name} | {' | '.join(cells)} |")
    inside = np.stack([row.in_band for row in rows if row.in_band is not None])
    share = " / ".join(f"{100 * value:.0f} %" for value in inside.mean(axis=0))
    print(f"\ntruth in the stated 90 % band, turn / chin / tilt / distance: {share}")
    distance = np.array([row.distance_error for row in rows])
    keys = np.array([row.key_error_deg for row in rows])
    keys = keys[np.isfinite(keys)]
    print(f"distance: mean error {100 * np.nanmean(distance):.1f} %")
    print(
        f"key: median error {np.median(keys):.0f} deg, nine in ten within "
        f"{np.percentile(keys, 90):.0f} deg, of {len(keys)} frames"
    )


def main() -> None:
    """Make the faces, photograph and read them, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheel", type=Path, help="the source wheel, if it is at hand")
    parser.add_argument("--faces", type=int, default=16)
    parser.add_argument("--seed", type=int, default=8)
    arguments = parser.parse_args()
    mitsuba.set_variant(VARIANT)
    rng = np.random.default_rng(arguments.seed)
    faces = mixed_faces(read_source(arguments.wheel), arguments.faces, rng)
    rows: list[Row] = []
    for vertices in faces:
        rows += read_sitting(sitting(vertices, rng))
    print(f"{arguments.faces} faces, {len(TURN_BANDS_DEG)} frames each, {SIZE_PX} pixels\n")
    print_tables(rows)


if __name__ == "__main__":
    main()
