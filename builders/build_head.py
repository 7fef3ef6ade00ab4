"""Makes sitwell/head/data/head.npz: ``python -m builders.build_head [--wheel FILE]``.

The steps: read the CC0 source, crop the head, size it, seat the eyes, paint the regions, draw
the hairline, cut the sliders, place the face landmarks, pack. Prints what was reached and the
hash of the file; the same source and libraries give the same file.
"""

import argparse
import hashlib
import io
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from builders import head_points
from builders.head_calibrate import Sized, calibrate, spread, target
from builders.head_eyes import Seat, closing_blink, fit_lids, seat_eye
from builders.head_hairline import (
    BAND_MM,
    heights,
    midline_walk,
    round_middles,
    split_long_sides,
)
from builders.head_landmarks import landmark_anchors
from builders.head_mesh import EYE_RADIUS_MM, MM_PER_DM, Crop, crop_head, eyeball, mirrored
from builders.head_modes import NO_EXPRESSION, shape_modes
from builders.head_paint import components, ear_triangles, neighbours, paint
from builders.head_source import Floats, Ints, Source, read_source
from sitwell.base.files import write_atomically
from sitwell.head.regions import FACE, Region
from sitwell.head.template import DATA, STEP_MM, Template, load_template

SKULL = (Region.FOREHEAD, Region.TEMPLE_OWN_LEFT, Region.TEMPLE_OWN_RIGHT)
# midway between the ear canals, then back and down to where the skull rests on the spine
PIVOT_BEHIND_MM, PIVOT_BELOW_MM = 10.0, 15.0


@dataclass(slots=True, kw_only=True)
class Build:
    """The head as it grows: skin first, then own-left and own-right eyeball.

    ``parents`` (V, 2) are the crop vertices each skin vertex lies halfway between (twice the
    same for an original one); the displacement of a slider follows from them.
    """

    source: Source
    crop: Crop
    sized: Sized
    seat: Seat
    vertices_mm: Floats
    triangles: Ints
    labels: Ints
    parents: Ints
    height_mm: Floats

    @property
    def skin(self) -> int:
        """How many vertices are skin."""
        return len(self.parents)


def main() -> None:
    """Builds the data file and reports."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheel", type=Path, help="the source wheel, if it is at hand")
    parser.add_argument("--out", type=Path, default=DATA)
    arguments = parser.parse_args()
    source = read_source(arguments.wheel)
    stored = build(source)
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
    head = _add_eyeballs(_refine(_seat(source, crop, sized)))
    stored = _geometry(head)
    stored |= _sliders(head, modes)
    stored |= _expressions(head)
    stored |= _points(head)
    return stored | landmark_anchors(_unpack_without_landmarks(stored))


def _unpack_without_landmarks(stored: dict[str, Any]) -> Template:
    """The template so far, for the landmarker to look at."""
    none = {"landmark_triangle": np.full(478, -1), "landmark_weights": np.zeros((478, 3))}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "head.npz"
        np.savez(path, **stored, **none)
        return load_template(path)


def _seat(source: Source, crop: Crop, sized: Sized) -> Build:
    skin = sized.vertices_mm[crop.kept]
    seat = seat_eye(skin, crop, float(sized.vertices_mm[source.left_eye, 0].mean()))
    left = skin[:, 0] > 1e-6
    fitted = fit_lids(skin, seat)
    skin[left] = fitted[left]
    skin[crop.mirror[left]] = mirrored(fitted[left])
    skin -= [0.0, 0.0, seat.centre_mm[2]]
    labels = paint(skin, source, crop)
    return Build(
        source=source,
        crop=crop,
        sized=sized,
        seat=replace(seat, centre_mm=seat.centre_mm * [1.0, 1.0, 0.0]),
        vertices_mm=skin,
        triangles=crop.triangles,
        labels=labels,
        parents=np.repeat(np.arange(len(skin))[:, None], 2, axis=1),
        height_mm=np.full(len(labels), np.nan),
    )


def _refine(head: Build) -> Build:
    """Splits the mesh around the hairline and paints the scalp."""
    points, midline = head.vertices_mm, _midline(head)
    walk = midline_walk(points, midline)
    walk_points = np.einsum("nk,nkc->nc", walk.weights, points[walk.ends])
    skull = np.isin(head.labels, SKULL)

    def above(vertices: Floats, triangles: Ints) -> Floats:
        return heights(vertices[triangles].mean(axis=1), walk_points, walk.height_mm)

    height = above(points, head.triangles)
    band = skull & (height > BAND_MM[0]) & (height < BAND_MM[1])
    parents, triangles, origin = split_long_sides(points, head.triangles, band)
    head.vertices_mm = np.vstack([points, round_middles(points, head.triangles, parents)])
    head.parents = np.vstack([head.parents, parents])
    head.triangles, head.labels = triangles, head.labels[origin]
    height = above(head.vertices_mm, triangles)
    _join_islands(head, height)
    head.height_mm = np.where(np.isin(head.labels, SKULL), height, np.nan)
    return head


def _join_islands(head: Build, height_mm: Floats) -> None:
    """Scraps of bare skin that the hairline cuts off go to the hair, in place."""
    near = neighbours(head.triangles)
    for region in SKULL:
        for scrap in components(near, (head.labels == region) & (height_mm <= 0.0))[1:]:
            height_mm[scrap] = 0.5


def _add_eyeballs(head: Build) -> Build:
    ball, triangles, iris = eyeball()
    left = ball * EYE_RADIUS_MM + head.seat.centre_mm
    first, second = head.skin, head.skin + len(ball)
    head.vertices_mm = np.vstack([head.vertices_mm, left, mirrored(left)])
    head.triangles = np.vstack([head.triangles, triangles + first, triangles[:, ::-1] + second])
    for iris_region, white_region in (
        (Region.IRIS_OWN_LEFT, Region.WHITE_OWN_LEFT),
        (Region.IRIS_OWN_RIGHT, Region.WHITE_OWN_RIGHT),
    ):
        head.labels = np.concatenate([head.labels, np.where(iris, iris_region, white_region)])
        head.height_mm = np.concatenate([head.height_mm, np.full(len(iris), np.nan)])
    return head


def _geometry(head: Build) -> dict[str, Any]:
    ball = (len(head.vertices_mm) - head.skin) // 2
    left_ball = np.arange(ball) + head.skin
    tragus = head.vertices_mm[_index(head, head_points.OWN_LEFT["tragus"])]
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


def _sliders(head: Build, modes: list[Any]) -> dict[str, Any]:
    odd = np.stack([_displacement(head, mode.odd_dm) for mode in modes])
    bent = [k for k, mode in enumerate(modes) if mode.even_dm is not None]
    even = np.stack([_displacement(head, modes[k].even_dm) for k in bent])
    return {
        "shape_names": np.array([mode.name for mode in modes]),
        "shape_sigma": np.array([mode.sigma for mode in modes], dtype=np.float32),
        "even_index": np.array(bent, dtype=np.int32),
        **_packed("shape", odd),
        **_packed("even", even),
    }


def _expressions(head: Build) -> dict[str, Any]:
    units = [name for name in head.source.expression_names() if name not in NO_EXPRESSION]
    moves = np.stack([_expression(head, head.source.expression(name)) for name in units])
    left, right = units.index("eyeBlinkLeft"), units.index("eyeBlinkRight")
    moves[left] = closing_blink(head.vertices_mm, moves[left], head.seat)
    moves[right] = mirrored(moves[left][_mirror(head)])
    return {
        "expression_names": np.array([_our_name(name) for name in units]),
        **_packed("expression", moves),
    }


def _mirror(head: Build) -> Ints:
    """Each vertex's image on the other side, skin and eyeballs."""
    index, image = cKDTree(head.vertices_mm), mirrored(head.vertices_mm)
    apart, nearest = index.query(image)
    ball = (len(head.vertices_mm) - head.skin) // 2
    if apart.max() > 1e-6:
        raise SystemExit(f"The head is not symmetrical: {apart.max():.2g} mm.")
    own_left = np.arange(ball) + head.skin
    return np.concatenate([nearest[: head.skin], own_left + ball, own_left])


def _our_name(unit: str) -> str:
    """``eyeBlinkLeft`` -> ``eye_blink_own_left``."""
    words = "".join(f"_{letter.lower()}" if letter.isupper() else letter for letter in unit)
    for side in ("left", "right"):
        if words.endswith(f"_{side}"):
            return words.removesuffix(side) + f"own_{side}"
    return words


def _displacement(head: Build, moved_dm: Floats) -> Floats:
    """A slider's displacement (V, 3) mm; eyeballs move whole and the eye midpoint stays.

    What moves most of the face also loses its rotation: how a head is held is no shape.
    """
    moved = moved_dm * MM_PER_DM * head.sized.scale
    left = moved[head.source.left_eye].mean(axis=0)
    right = moved[head.source.right_eye].mean(axis=0)
    ball = (len(head.vertices_mm) - head.skin) // 2
    skin = moved[head.crop.kept][head.parents].mean(axis=1)
    moves = np.vstack([skin, np.tile(left, (ball, 1)), np.tile(right, (ball, 1))])
    places = head.vertices_mm.copy()
    places[head.skin : head.skin + ball] = head.seat.centre_mm
    places[head.skin + ball :] = mirrored(head.seat.centre_mm)
    face = np.unique(head.triangles[np.isin(head.labels, list(FACE))])
    whole = np.abs(moves[face]).max(axis=1) > STEP_MM
    moves = moves - (left + right) / 2
    if np.mean(whole) > 0.5:
        moves -= np.cross(_mean_turn(places[face], moves[face]), places)
    return moves


def _mean_turn(places: Floats, moves: Floats) -> Floats:
    """The small rotation vector (3,) about the origin that explains most of ``moves`` (N, 3)."""
    columns = [np.cross(axis, places).reshape(-1) for axis in np.eye(3)]
    turn, *_ = np.linalg.lstsq(np.stack(columns, axis=1), moves.reshape(-1), rcond=None)
    return turn


def _expression(head: Build, moved_dm: Floats) -> Floats:
    """A unit's displacement (V, 3) mm; eyeballs turn about their centres as the source's do."""
    moved = moved_dm * MM_PER_DM * head.sized.scale
    skin = moved[head.crop.kept][head.parents].mean(axis=1)
    balls = []
    for side, group in enumerate((head.source.left_eye, head.source.right_eye)):
        count = (len(head.vertices_mm) - head.skin) // 2
        ball = head.vertices_mm[head.skin + side * count : head.skin + (side + 1) * count]
        centre = head.seat.centre_mm * [1 - 2 * side, 0, 0]
        turn = _turn(head.source.vertices_dm[group], moved_dm[group])
        balls.append((ball - centre) @ (turn - np.eye(3)).T)
    return np.vstack([skin, *balls])


def _turn(points: Floats, moved: Floats) -> Floats:
    """The rotation (3, 3) that best carries points (N, 3) about their mean as they moved."""
    before = points - points.mean(axis=0)
    after = points + moved
    u, _, vt = np.linalg.svd((after - after.mean(axis=0)).T @ before)
    return u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt


def _packed(name: str, moves: Floats) -> dict[str, Any]:
    """Whole steps of the moved vertices only, coordinate by coordinate, and a bit mask of them."""
    steps = np.round(moves / STEP_MM).astype(np.int16)
    moved = steps.any(axis=2).reshape(-1)
    return {
        f"{name}_rows": np.int32(len(moves)),
        f"{name}_moved": np.packbits(moved),
        f"{name}_steps": np.ascontiguousarray(steps.reshape(-1, 3)[moved].T),
    }


def _points(head: Build) -> dict[str, Any]:
    ball = (len(head.vertices_mm) - head.skin) // 2
    anchors = {name: _index(head, v) for name, v in head_points.MIDLINE.items()}
    for name, vertex in head_points.OWN_LEFT.items():
        index = _index(head, vertex)
        anchors[f"{name}_own_left"] = index
        anchors[f"{name}_own_right"] = int(head.crop.mirror[index])
    anchors["iris_own_left"], anchors["iris_own_right"] = head.skin, head.skin + ball
    rows = {name: _on_vertices(head, (v, v), (1.0, 0.0)) for name, v in anchors.items()}
    walk = midline_walk(head.vertices_mm, _midline(head))
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


def _midline(head: Build) -> Ints:
    """Skin vertices on the midline from between the brows over the crown to the nape, in order."""
    start, stop = (_index(head, v) for v in (head_points.MIDLINE["brow_centre"], 5266))
    count = len(head.parents)
    on_it = set(np.flatnonzero(np.abs(head.vertices_mm[:count, 0]) < 1e-6).tolist())
    near: dict[int, set[int]] = {v: set() for v in on_it}
    for corners in head.triangles.tolist():
        both = [v for v in corners if v in on_it]
        if len(both) == 2:
            near[both[0]].add(both[1])
            near[both[1]].add(both[0])
    upward = max(near[start], key=lambda v: head.vertices_mm[v, 1])
    path = [start, upward]
    while path[-1] != stop:
        path.append(next(v for v in near[path[-1]] if v != path[-2]))
    return np.array(path)


def _on_vertices(head: Build, ends: Any, weights: Any) -> tuple[int, Floats]:
    """The first triangle that holds both vertices, and the weights of its corners."""
    holds = (head.triangles == ends[0]).any(axis=1) & (head.triangles == ends[1]).any(axis=1)
    triangle = int(np.flatnonzero(holds)[0])
    corners = head.triangles[triangle]
    share = np.zeros(3)
    for vertex, weight in zip(ends, weights, strict=True):
        share[corners == vertex] += weight
    return triangle, share


def _index(head: Build, source_vertex: int) -> int:
    return int(np.searchsorted(head.crop.kept, source_vertex))


if __name__ == "__main__":
    main()
