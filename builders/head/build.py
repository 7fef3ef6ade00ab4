"""Makes sitwell/head/data/head.npz: ``python -m builders.head.build [--wheel FILE]``.

The steps: read the CC0 source, crop the head, size it, seat the eyes, paint the regions, draw
the hairline, cut the sliders, place the face landmarks, pack. Prints what was reached and the
hash of the file; the same source and libraries give the same file.
"""

import argparse
import hashlib
import io
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from builders.head import points as head_points
from builders.head.calibrate import calibrate, spread, target
from builders.head.form import Build, grow, midline
from builders.head.hairline import midline_walk
from builders.head.landmarks import landmark_anchors
from builders.head.mesh import EYE_RADIUS_MM, crop_head, mirrored
from builders.head.modes import shape_modes
from builders.head.paint import ear_triangles
from builders.head.sliders import expressions, sliders
from builders.head.source import Floats, Source, read_source
from sitwell.base.files import write_atomically
from sitwell.head.template import DATA, Template, load_template

# midway between the ear canals, then back and down to where the skull rests on the spine
PIVOT_BEHIND_MM, PIVOT_BELOW_MM = 10.0, 15.0


def main() -> None:
    """Builds the data file and reports."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheel", type=Path, help="the source wheel, if it is at hand")
    parser.add_argument("--out", type=Path, default=DATA)
    parser.add_argument(
        "--keep-mean", action="store_true",
        help="renew named points and sliders alone: the landmarks' errors were learned on the mean",
    )  # fmt: skip
    arguments = parser.parse_args()
    source = read_source(arguments.wheel)
    stored = build(source)
    if arguments.keep_mean:
        with np.load(DATA) as kept:
            renewed = ("point_", "shape_", "even_")
            stored = {**kept, **{n: stored[n] for n in kept.files if n.startswith(renewed)}}
    packed = io.BytesIO()
    np.savez_compressed(packed, **stored)
    write_atomically(arguments.out, packed.getvalue())
    digest = hashlib.sha256(packed.getvalue()).hexdigest()
    print(f"{arguments.out.name}: {len(packed.getvalue())} bytes, sha256 {digest}")


def build(source: Source) -> dict[str, Any]:
    """Every array of the data file."""
    crop = crop_head(source)
    modes = shape_modes(source)
    half = len(crop.triangles) // 2
    ear = crop.kept[np.unique(crop.triangles[:half][ear_triangles(source, crop)])]
    sized = calibrate(source, crop, modes, ear)
    for name, reached in sized.reached.items():
        print(f"{name:15s} target {target(name):6.1f} (SD {spread(name):4.1f}) got {reached:6.1f}")
    head = grow(source, crop, sized)
    stored = _geometry(head)
    stored |= sliders(head, modes)
    stored |= expressions(head)
    stored |= _points(head)
    return stored | landmark_anchors(_unpack_without_landmarks(stored))


def _unpack_without_landmarks(stored: dict[str, Any]) -> Template:
    """The template so far, for the landmarker to look at."""
    none = {"landmark_triangle": np.full(478, -1), "landmark_weights": np.zeros((478, 3))}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "head.npz"
        np.savez(path, **stored, **none)
        return load_template(path)


def _geometry(head: Build) -> dict[str, Any]:
    ball = head.ball
    left_ball = np.arange(ball) + head.skin
    tragus = head.vertices_mm[head.index(head_points.OWN_LEFT["tragus"])]
    pivot = [0.0, tragus[1] - PIVOT_BELOW_MM, tragus[2] - PIVOT_BEHIND_MM]
    centre = head.seat.centre_mm
    return {
        "vertices_mm": head.vertices_mm.astype(np.float32),
        "triangles": head.triangles.astype(np.uint16),
        "bare_region": head.labels.astype(np.uint8),
        "hairline_height_mm": head.height_mm.astype(np.float32),
        "eye_radius_mm": np.float32(EYE_RADIUS_MM),
        "eye_centre_mm_own_left": centre.astype(np.float32),
        "eye_centre_mm_own_right": mirrored(centre).astype(np.float32),
        "eyeball_vertices_own_left": left_ball.astype(np.uint16),
        "eyeball_vertices_own_right": (left_ball + ball).astype(np.uint16),
        "lid_vertices_own_left": head.seat.lids.astype(np.uint16),
        "lid_vertices_own_right": head.crop.mirror[head.seat.lids].astype(np.uint16),
        "neck_pivot_mm": np.array(pivot, dtype=np.float32),
    }


def _points(head: Build) -> dict[str, Any]:
    ball = head.ball
    anchors = {name: head.index(v) for name, v in head_points.MIDLINE.items()}
    for name, vertex in head_points.OWN_LEFT.items():
        index = head.index(vertex)
        anchors[f"{name}_own_left"] = index
        anchors[f"{name}_own_right"] = int(head.crop.mirror[index])
    anchors["iris_own_left"], anchors["iris_own_right"] = head.skin, head.skin + ball
    rows = {name: _on_vertices(head, (v, v), (1.0, 0.0)) for name, v in anchors.items()}
    walk = midline_walk(head.vertices_mm, midline(head))
    steps = [_on_vertices(head, e, w) for e, w in zip(walk.ends, walk.weights, strict=True)]
    rows["hairline"] = steps[int(np.flatnonzero(walk.height_mm == 0.0)[0])]
    return {
        "point_names": np.array(list(rows)),
        "point_triangle": np.array([row[0] for row in rows.values()], dtype=np.int32),
        "point_weights": np.array([row[1] for row in rows.values()], dtype=np.float32),
        "walk_height_mm": walk.height_mm.astype(np.float32),
        "walk_triangle": np.array([step[0] for step in steps], dtype=np.int32),
        "walk_weights": np.array([step[1] for step in steps], dtype=np.float32),
    }


def _on_vertices(head: Build, ends: Any, weights: Any) -> tuple[int, Floats]:
    """The first triangle that holds both vertices, and the weights of its corners."""
    holds = (head.triangles == ends[0]).any(axis=1) & (head.triangles == ends[1]).any(axis=1)
    triangle = int(np.flatnonzero(holds)[0])
    corners = head.triangles[triangle]
    share = np.zeros(3)
    for vertex, weight in zip(ends, weights, strict=True):
        share[corners == vertex] += weight
    return triangle, share


if __name__ == "__main__":
    main()
