"""Learn anew how the landmarker errs, from sittings of two families of heads.

``python -m builders.learned.relearn_bias FOLDER FOLDER``: sittings of
``builders/families/quick_sittings.py``, one folder a family. ``build_landmark_bias.py`` learned on
plainly shaded heads of our own sliders, on which landmarks slide more than on skin with pores,
brows and hair; its directions and its answer to a head's shape stay, half of the offset and of the
covariances is learned here. Prints how well the mean head's pose is found on each family, learned
before, on the other family, and on both.
"""

import argparse
import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.families.quick_sittings import SIZE_PX
from builders.learned.build_landmark_bias import covariances, mirrored, write
from builders.traced.sittings import Shot, Sitting, read_sittings
from sitwell.brief.photos import open_photo
from sitwell.face.landmarks import find_faces
from sitwell.head.basis import USED_LANDMARKS, landmark_basis, landmarks_on
from sitwell.head.bias import DATA, LandmarkBias, pose_terms
from sitwell.head.fit import fit_head
from sitwell.head.pose import Sighting, pose_quick, project, upright_axes
from sitwell.head.spread import REAL_FACES
from sitwell.head.surface import build_head

_RIDGE = 1.0  # views' worth of pull toward no offset, for the high terms
# The share of offset and covariances that is learned here. With all of it, plainly shaded heads
# turned by 20 degrees were read at 15; which kind real faces are more like is not known.
_NEW = 0.5
_BANDS_DEG = ((0.0, 20.0), (20.0, 45.0), (45.0, 70.0))
_CALIBRATED = 120  # frames, turned less than 45 degrees, that spreads are held to

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Erred:
    """One frame: its head's number, true pose, and landmarks less their true places (2N,) and
    these less the mean head's with the same expression (2N,), in mm in upright picture axes.
    """

    head: int
    pose_deg: tuple[float, float, float]
    error: Array
    departure: Array
    sighting: Sighting


def erred(folder: Path, first: int = 0) -> list[Erred]:
    """All frames of a folder's sittings in which a face is found, heads numbered from ``first``."""
    rows = []
    for number, sitting in enumerate(read_sittings(folder, 10_000)):
        own = (_erred(first + number, sitting, shot) for shot in sitting.shots)
        rows += [row for row in own if row is not None]
    return rows


def _erred(number: int, sitting: Sitting, shot: Shot) -> Erred | None:
    photo = open_photo(sitting.folder / shot.file, focal_35_mm=sitting.focal_35_mm)
    faces = find_faces(photo)
    if not faces:
        return None
    centre, focal_px = np.full(2, SIZE_PX / 2.0), photo.focal.px
    to_mm = upright_axes(shot.tilt_deg).T * (-shot.place_mm[2] / focal_px)
    true = landmarks_on(sitting.face.pulled(shot.pulled))
    mean = landmark_basis().mean_mm + true - landmarks_on(sitting.face.head)
    seen, here, there = (
        (spots @ to_mm).reshape(-1)
        for spots in (
            faces[0].landmarks_px[USED_LANDMARKS],
            project(true, shot.pose, focal_px, centre),
            project(mean, shot.pose, focal_px, centre),
        )
    )
    return Erred(
        head=number,
        pose_deg=(shot.turn_deg, shot.chin_deg, shot.tilt_deg),
        error=seen - here,
        departure=here - there,
        sighting=Sighting(
            landmarks_px=faces[0].landmarks_px,
            centre_px=centre,
            focal=photo.focal,
            blendshapes=faces[0].blendshapes,
        ),
    )


def relearned(bias: LandmarkBias, rows: Sequence[Erred]) -> LandmarkBias:
    """The bias with offset and covariances of these frames and their mirror images."""
    owner = np.array([row.head for row in rows])
    poses = np.array([row.pose_deg[:2] for row in rows])
    errors, departures = np.stack([r.error for r in rows]), np.stack([r.departure for r in rows])
    errors = np.r_[errors, mirrored(errors)] @ bias.directions.T
    departures = np.r_[departures, mirrored(departures)] @ bias.directions.T
    terms = np.stack([pose_terms(*pose) for pose in np.r_[poses, poses * (-1.0, 1.0)]])
    rest = errors - departures @ bias.answer
    pull = np.diag(np.r_[0.0, np.full(terms.shape[1] - 1, _RIDGE)])
    offset = np.linalg.solve(terms.T @ terms + pull, terms.T @ rest)
    in_frame, of_sitter = covariances(rest - terms @ offset, np.r_[owner, owner + owner.max() + 1])
    return dataclasses.replace(
        bias,
        offset=(1.0 - _NEW) * bias.offset + _NEW * offset,
        by_frame=(1.0 - _NEW) * bias.by_frame + _NEW * in_frame,
        by_sitter=(1.0 - _NEW) * bias.by_sitter + _NEW * of_sitter,
    )


def calibrated(bias: LandmarkBias, rows: Sequence[Erred]) -> LandmarkBias:
    """The bias with spreads that hold nine in ten of these frames, each fitted by itself."""
    near = [row for row in rows if abs(row.pose_deg[0]) < _BANDS_DEG[1][1]]
    scores = []
    for row in near[:: max(1, len(near) // _CALIBRATED)]:
        frame = fit_head([row.sighting], bias=bias).frames[0]
        spread = (frame.spread.turn_deg, frame.spread.chin_deg, frame.spread.tilt_deg)
        scores.append(np.subtract(frame.pose.seen_deg, row.pose_deg) / spread * REAL_FACES)
    held = np.percentile(np.abs(scores), 90.0, axis=0) / 1.645
    return dataclasses.replace(bias, spread_scale=bias.spread_scale * held)


def print_errors(name: str, rows: Sequence[Erred], bias: LandmarkBias) -> None:
    """Mean absolute errors of the mean head's pose by turn, one frame at a time."""
    head = build_head()
    found = [pose_quick(head, row.sighting, bias=bias).seen_deg for row in rows]
    off = np.abs(np.array(found) - [row.pose_deg for row in rows])
    turns = np.abs([row.pose_deg[0] for row in rows])
    cells = (off[(turns >= low) & (turns < high)].mean(axis=0) for low, high in _BANDS_DEG)
    print(f"| {name} | {' | '.join(' / '.join(f'{v:.2f}' for v in cell) for cell in cells)} |")


def main() -> None:
    """Learn, say how well, calibrate and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", type=Path, nargs=2)
    parser.add_argument("--before", type=Path, default=DATA, help="what was learned before")
    arguments = parser.parse_args()
    with np.load(arguments.before) as stored:
        before = LandmarkBias(**{k: stored[k].astype(np.float64) for k in stored.files})
    families = [erred(folder, 1000 * n) for n, folder in enumerate(arguments.folders)]
    both = relearned(before, [*families[0], *families[1]])
    print("| turn / chin / tilt, deg | 0-20 | 20-45 | 45-70 |\n|---|---|---|---|")
    for own, other in ((0, 1), (1, 0)):
        name = arguments.folders[own].name
        print_errors(f"{name}: learned before", families[own], before)
        crosswise = relearned(before, families[other])
        print_errors(f"{name}: learned on the other", families[own], crosswise)
        print_errors(f"{name}: learned on both", families[own], both)
    both = calibrated(both, [*families[0], *families[1]])
    write({name.name: getattr(both, name.name) for name in dataclasses.fields(both)})
    print(f"spreads multiplied by {np.round(both.spread_scale, 2)}")


if __name__ == "__main__":
    main()
