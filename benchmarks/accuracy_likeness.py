"""How like the picture made from a sitter's frames is to a frame that was left out.

Run from the repository: ``python -m benchmarks.accuracy_likeness FOLDER``. The folder holds the
rendered sitters that ``python -m builders.sitters.photograph FOLDER --heads ARRAYS`` takes: strand
hair, both families of heads, deep to light skin. A frame is predicted from others at its own pose,
lens and light, before a wall of its own tone, by the likeness, and by moving, turning and scaling
the nearest frame. Pictures are laid on the frame by the face's landmarks, moved and scaled. Prints
the tables that docs/likeness.md quotes.
"""

import argparse
import json
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import astuple, dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from benchmarks.likeness_scores import (
    Pixels,
    Predicted,
    Scores,
    Truth,
    laid_on,
    person_by_ground,
    score,
    stops_between,
    warped,
)
from sitwell.brief.photos import open_photo
from sitwell.brief.request import SitterBrief
from sitwell.face.landmarks import find_faces
from sitwell.likeness.likeness import likeness_of
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import read_sitter

Array = NDArray[np.float64]
SIZE_PX = (640, 800)
GROUNDS_STOPS = (-1.5, 1.0)
_SHARP = 22.0  # f-number
METHODS = ("likeness", "moved frame")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Which frame is predicted from which; numbers are those of ``photograph.POSES_DEG``."""

    kind: str
    frame: int
    given: tuple[int, ...]
    nearest: int


CASES = (
    Case(kind="10 deg", frame=0, given=(1, 5), nearest=1),
    Case(kind="10 deg", frame=1, given=(0, 5), nearest=0),
    Case(kind="10 deg", frame=1, given=(0, 2), nearest=0),
    Case(kind="10 deg", frame=4, given=(0, 2), nearest=0),
    Case(kind="20 deg", frame=0, given=(2, 5), nearest=2),
    Case(kind="20 deg", frame=2, given=(0, 5), nearest=0),
    Case(kind="20 deg", frame=5, given=(0, 2), nearest=0),
    Case(kind="20 deg, one frame", frame=0, given=(2,), nearest=2),
    Case(kind="20 deg, one frame", frame=2, given=(0,), nearest=0),
    Case(kind="30 deg", frame=0, given=(3,), nearest=3),
    Case(kind="30 deg", frame=3, given=(0, 5), nearest=0),
    Case(kind="chin 8", frame=7, given=(0, 2, 5), nearest=0),
    Case(kind="chin 8", frame=8, given=(0, 2, 5), nearest=0),
    Case(kind="other light, 10 deg", frame=9, given=(1, 5), nearest=1),
    Case(kind="own pose", frame=0, given=(0, 1, 2), nearest=0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One prediction."""

    sitter: str
    group: str
    hair: str
    kind: str
    method: str
    scores: Scores | None


def main() -> None:
    """Predict, score and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", nargs="*", help="these sitters only")
    parser.add_argument("--keep", type=Path, help="keep each prediction beside its frame here")
    arguments = parser.parse_args()
    rows: list[Row] = []
    for place in sorted(path for path in arguments.folder.iterdir() if path.is_dir()):
        if arguments.only is None or place.name in arguments.only:
            for case in CASES:
                rows += predict(place, case, arguments.keep)
    print_kinds(rows)
    print_groups(rows, "skin", lambda row: row.group)
    print_groups(rows, "hair", lambda row: row.hair)


def predict(place: Path, case: Case, keep: Path | None) -> list[Row]:
    """One frame of a sitter by each method; nothing where the folder lacks a frame."""
    frames = [place / f"frame-{number}.jpg" for number in (case.frame, *case.given)]
    if not all(frame.exists() for frame in frames):
        return []
    truth, facts = read_truth(frames[0]), _facts(frames[0])
    # the rendered frames are sharp all over
    setup = Setup(**facts["setup"]).with_changes(f_number=_SHARP)
    made: dict[str, Predicted | None] = dict.fromkeys(METHODS)
    made["likeness"] = _likened(place, case, setup, truth)
    made["moved frame"] = _moved(place / f"frame-{case.nearest}.jpg", truth)
    rows = []
    for method, predicted in made.items():
        scores = None if predicted is None else score(predicted, truth)
        rows.append(
            Row(sitter=place.name, group=facts["group"], hair=facts["hair"], kind=case.kind,
                method=method, scores=scores)
        )  # fmt: skip
        if keep is not None and predicted is not None:
            keep.mkdir(parents=True, exist_ok=True)
            beside = np.hstack([truth.rgb, predicted.rgb])
            name = f"{place.name}-{case.frame}-from-{case.nearest}-{method.replace(' ', '-')}.jpg"
            Image.fromarray(beside).save(keep / name, quality=85)
    return rows


def _likened(place: Path, case: Case, setup: Setup, truth: Truth) -> Predicted | None:
    sitter = read_sitter(_brief(place, case.given))
    likeness = likeness_of(sitter.reading, sitter.head)
    if likeness is None:
        return None
    first, second = (
        likeness.picture(setup.with_changes(background_stops=stops), *SIZE_PX).pixels
        for stops in GROUNDS_STOPS
    )
    found = landmarks_of(first)
    if found is None:
        return None
    person = person_by_ground(first, second)
    # a lamp of its own lights these walls, so that their tone is the frame's and not the set-up's
    stops = GROUNDS_STOPS[0] + stops_between(first[~person], truth.rgb[truth.wall])
    made = likeness.picture(setup.with_changes(background_stops=stops), *SIZE_PX).pixels
    return laid_on(made, person, found, truth)


def _brief(place: Path, given: Sequence[int]) -> SitterBrief:
    frames = tuple(place / f"frame-{number}.jpg" for number in given)
    return SitterBrief(frames=frames, level=frames[0] if given[0] == 0 else None)


def _moved(nearest: Path, truth: Truth) -> Predicted:
    """The nearest frame itself, moved, turned and scaled so that the landmarks lie best."""
    frame = read_truth(nearest)
    matrix, _ = cv2.estimateAffinePartial2D(
        frame.landmarks_px, truth.landmarks_px, method=cv2.LMEDS
    )
    there = frame.landmarks_px @ matrix[:, :2].T + matrix[:, 2]
    missed = float(np.linalg.norm(there - truth.landmarks_px, axis=1).mean())
    return warped(frame.rgb, frame.person, matrix.astype(np.float64), truth, missed)


@cache
def read_truth(path: Path) -> Truth:
    """A frame and what is true of it."""
    with np.load(path.with_suffix(".npz")) as kept:
        cover = kept["cover"].astype(np.float64) / 255.0
    rgb = np.asarray(Image.open(path).convert("RGB"))
    landmarks = landmarks_of(rgb)
    if landmarks is None:
        raise SystemExit(f"No face is found in {path}; take it anew.")
    points = {name: np.array(at) for name, at in _facts(path)["points_px"].items()}
    return Truth(path=path, rgb=rgb, cover=cover, points_px=points, landmarks_px=landmarks)


def _facts(path: Path) -> dict[str, Any]:
    return json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))


def landmarks_of(rgb: Pixels) -> Array | None:
    """The face's landmarks (478, 2) in a picture, as the landmarker sees them."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "picture.png"
        Image.fromarray(rgb).save(path)
        faces = find_faces(open_photo(path), max_faces=1)
    return faces[0].landmarks_px if faces else None


NAMES: Mapping[str, str] = {
    "similarity": "similarity", "inside": "inside", "outline": "outline %", "outline_95": "95th %",
    "points": "points %", "stops": "stops", "colour": "colour", "holes": "holes %",
}  # fmt: skip


def print_kinds(rows: Sequence[Row]) -> None:
    """Means over the sitters by what changed and by method."""
    print(f"| from the nearest frame | method | {' | '.join(NAMES.values())} | of |")
    print("|" + "---|" * (len(NAMES) + 3))
    for kind in dict.fromkeys(row.kind for row in rows):
        for method in METHODS:
            _print(f"{kind} | {method}", [r for r in rows if (r.kind, r.method) == (kind, method)])


def print_groups(rows: Sequence[Row], what: str, group_of: Callable[[Row], str]) -> None:
    """The likeness again by group, the frame's own pose left out."""
    print(f"\n| {what} | {' | '.join(NAMES.values())} | of |")
    print("|" + "---|" * (len(NAMES) + 2))
    for group in sorted({group_of(row) for row in rows}):
        own = [r for r in rows if group_of(r) == group and r.method == "likeness"]
        _print(group, [r for r in own if r.kind != "own pose"])


def _print(name: str, rows: Sequence[Row]) -> None:
    scored = np.array([astuple(row.scores) for row in rows if row.scores is not None])
    if not len(scored):
        print(f"| {name} |" + " - |" * len(NAMES) + f" 0 of {len(rows)} |")
        return
    # a picture too bright and one too dark must not even out
    stops = [field.name for field in fields(Scores)].index("stops")
    scored[:, stops] = np.abs(scored[:, stops])
    cells = " | ".join(f"{value:.2f}" for value in scored.mean(axis=0))
    print(f"| {name} | {cells} | {len(scored)} of {len(rows)} |")


if __name__ == "__main__":
    main()
