"""Invented sitters of another kind than the reading learned from, and the truth about each.

Shapes are mixes of the CC0 source's own grown-up faces, then bent by displacement fields of their
own that no shape slider contains: a nose that leans or bends, one eye more open, one ear standing
out, brows at two heights, and soft dents and swellings all over. What is true of a face is measured
on its bent vertices. The mesh underneath is the same source's, so this is a test of unlike shape,
skin and light, not of people. ``skin.py`` and ``wear.py`` say how they look,
``studio.py`` photographs them with another renderer.
"""

import dataclasses
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags

from builders.head.calibrate import calibrate, neutral_dm
from builders.head.form import Build, grow
from builders.head.mesh import MM_PER_DM, crop_head
from builders.head.modes import shape_modes
from builders.head.paint import ear_triangles
from builders.head.sliders import displacement
from builders.head.source import Source
from sitwell.head.regions import Region
from sitwell.head.surface import LID_CLEARANCE_MM, SIDES, Head, build_head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
_GROWN = re.compile(r"macrodetails/[a-z]+-(female|male)-(young|old)$")
_UNITS = "expression/units/caucasian"  # the source's three sets of units move alike
IPD_MM, IPD_SPREAD_MM = 63.0, 3.6  # Dodgson 2004
# One sigma of each bend, in mm or degrees.
LEAN_MM, LIDS_MM, UNEVEN_LIDS_MM = 2.5, 0.5, 0.75
EARS_DEG, UNEVEN_EARS_DEG, BROWS_MM, UNEVEN_BROWS_MM = 6.0, 5.0, 1.5, 1.2
_DENTS, _DENT_MM, _JAW_MM = 14, 0.7, 1.3
# What a face may do in a frame: the source's units of expression and how strongly at most.
PULLED: Mapping[str, tuple[Mapping[str, float], float]] = {
    "smile": ({"mouth-corner-puller": 1.0, "eye-left-slit": 0.15, "eye-right-slit": 0.15}, 1.0),
    "blink": ({"eye-left-closure": 1.0, "eye-right-closure": 1.0}, 1.25),
    "squint": ({"eye-left-slit": 1.0, "eye-right-slit": 1.0}, 0.45),
    "brows": ({"eyebrows-left-up": 1.0, "eyebrows-right-up": 0.8}, 1.0),
    "talk": ({"mouth-open": 0.35, "mouth-part-later": 0.3}, 1.0),
    "pressed": ({"mouth-compression": 1.0}, 0.8),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One invented sitter at rest: the bent head, and the shares drawn of the source's targets.

    ``female_share`` and ``old_share`` (0 to 1) are parameters of the drawing, reported so that
    results can be told apart by them. ``pulls_mm`` (V, 3) by name are the face's expressions.
    """

    head: Head
    female_share: float
    old_share: float
    pulls_mm: Mapping[str, Array]

    def pulled(self, amounts: Mapping[str, float]) -> Head:
        """The head as it pulls a face."""
        vertices = self.head.vertices_mm.astype(np.float64)
        for name, amount in amounts.items():
            vertices = vertices + amount * self.pulls_mm[name]
        return with_vertices(self.head, lids_outside(self.head, vertices))


def draw_faces(source: Source, count: int, seed: int) -> list[Face]:
    """The first ``count`` faces of a seed; each has a generator of its own."""
    crop, modes = crop_head(source), shape_modes(source)
    own_left = crop.triangles[: len(crop.triangles) // 2]
    ear = crop.kept[np.unique(own_left[ear_triangles(source, crop)])]
    build = grow(source, crop, calibrate(source, crop, modes, ear))
    names = [f"macrodetails/{name}" for name in source.target_names("macrodetails")]
    kinds = [(name, match) for name in names if (match := _GROWN.match(name))]
    targets = np.stack([source.target(name) for name, _ in kinds])
    female = np.array([match[1] == "female" for _, match in kinds])
    old = np.array([match[2] == "old" for _, match in kinds])
    mean = neutral_dm(source) - source.vertices_dm
    pulls = {name: _pull_mm(build, units) for name, (units, _) in PULLED.items()}
    faces = []
    for index in range(count):
        rng = np.random.default_rng((seed, index))
        share = rng.dirichlet(np.full(len(targets), 0.4))
        mix = displacement(build, np.tensordot(share, targets, 1) - mean)
        faces.append(
            Face(
                head=bent(_mixed(mix), rng),
                female_share=float(share @ female),
                old_share=float(share @ old),
                pulls_mm=pulls,
            )
        )
    return faces


def _pull_mm(build: Build, units: Mapping[str, float]) -> Array:
    """What the source's units of expression move (V, 3), in mm; the eyeballs stay."""
    moved_dm = sum(share * build.source.target(f"{_UNITS}/{unit}") for unit, share in units.items())
    moved = np.asarray(moved_dm) * MM_PER_DM * build.sized.scale
    skin = moved[build.crop.kept][build.parents].mean(axis=1)
    return np.vstack([skin, np.zeros((2 * build.ball, 3))])


def _mixed(mix_mm: Array) -> Head:
    """A head of the template's with vertices moved by (V, 3) mm, eyeballs carried along."""
    mean, template = build_head(), load_template()
    centres = {
        side: (mean.eye_centre_mm[side] + mix_mm[ball[0]]).astype(np.float32)
        for side, ball in template.eyeball_vertices.items()
    }
    head = dataclasses.replace(mean, eye_centre_mm=centres)
    return with_vertices(head, lids_outside(head, mean.vertices_mm + mix_mm))


def with_vertices(head: Head, vertices: Array) -> Head:
    """The same head with its vertices (V, 3) elsewhere."""
    return dataclasses.replace(head, vertices_mm=vertices.astype(np.float32))


def lids_outside(head: Head, vertices: Array) -> Array:
    """The vertices with the lids kept outside the eyeballs."""
    vertices, template = vertices.copy(), load_template()
    for side, lids in template.lid_vertices.items():
        outward = vertices[lids] - (centre := head.eye_centre_mm[side])
        far = np.linalg.norm(outward, axis=1, keepdims=True)
        vertices[lids] = centre + outward * np.maximum(
            far, template.eye_radius_mm + LID_CLEARANCE_MM
        ) / np.maximum(far, 1e-6)
    return vertices


def bent(head: Head, rng: np.random.Generator) -> Head:
    """The head made uneven by fields of our own drawing, and brought to a size of its own."""
    vertices = head.vertices_mm.astype(np.float64)
    move = _dents(head, rng) + _jaw(head, rng) + _nose(head, rng) + _brows(head, rng)
    vertices = vertices + move * _off_eyes(head)[:, None]
    vertices = _ears_turned(head, vertices, rng)
    vertices = lids_outside(head, _lids_turned(head, vertices, rng))
    eyes = [np.asarray(head.eye_centre_mm[side], dtype=float) for side in SIDES]
    wanted = IPD_MM + IPD_SPREAD_MM * float(np.clip(rng.normal(), -2.0, 2.0))
    return _sized(with_vertices(head, vertices), wanted / float(np.linalg.norm(eyes[0] - eyes[1])))


def _sized(head: Head, scale: float) -> Head:
    return dataclasses.replace(
        head,
        vertices_mm=head.vertices_mm * np.float32(scale),
        neck_pivot_mm=head.neck_pivot_mm * np.float32(scale),
        eye_centre_mm={s: c * np.float32(scale) for s, c in head.eye_centre_mm.items()},
        eye_radius_mm=head.eye_radius_mm * scale,
    )


@cache
def soft_region(stems: tuple[str, ...], rounds: int) -> Array:
    """How far each vertex (V,) belongs to these regions: 1 inside, soft at the edge."""
    template = load_template()
    own = [r for r in Region if r.name.startswith(stems)]
    share = np.zeros(len(template.vertices_mm))
    share[np.unique(template.triangles[np.isin(template.region_of_triangle, own)])] = 1.0
    inside, near = share > 0, _neighbours()
    for _ in range(rounds):
        share = near @ share
        share[inside] = 1.0
    return np.asarray(near @ (near @ share))


@cache
def _neighbours() -> csr_matrix:
    """Averages each vertex with those it shares a side with (V, V)."""
    template = load_template()
    pairs = np.vstack([template.triangles[:, [0, 1]], template.triangles[:, [1, 2]]])
    pairs = np.vstack([pairs, pairs[:, ::-1]])
    size = len(template.vertices_mm)
    sides = csr_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
    sides.data[:] = 1.0
    count = np.maximum(np.asarray(sides.sum(axis=1)).ravel(), 1.0)
    return (diags(np.full(size, 0.5)) + diags(0.5 / count) @ sides).tocsr()


def _hill(head: Head, middle: Array, wide_mm: Array) -> Array:
    """A bell (V,) about a point with its own width along each axis."""
    away = (head.vertices_mm - middle) / wide_mm
    return np.asarray(np.exp(-0.5 * np.einsum("vi,vi->v", away, away)), dtype=np.float64)


def _off_eyes(head: Head) -> Array:
    """0 at the eyes, 1 from 24 mm on: what moves the skin there would bare the eyeballs."""
    free = np.ones(len(head.vertices_mm))
    for side in SIDES:
        away = np.linalg.norm(head.vertices_mm - head.eye_centre_mm[side], axis=1)
        free *= np.clip((away - 15.0) / 9.0, 0.0, 1.0)
    free[np.concatenate(list(load_template().eyeball_vertices.values()))] = 0.0
    return free


def _dents(head: Head, rng: np.random.Generator) -> Array:
    """Soft dents and swellings of some millimetres' reach all over face and ears."""
    vertices = head.vertices_mm.astype(np.float64)
    move = np.zeros_like(vertices)
    for middle in vertices[rng.choice(np.flatnonzero(vertices[:, 2] > -110), _DENTS)]:
        wide = np.full(3, rng.uniform(12.0, 40.0))
        move += _hill(head, middle, wide)[:, None] * rng.normal(0.0, _DENT_MM, 3)
    return move


def _jaw(head: Head, rng: np.random.Generator) -> Array:
    """Mouth and chin a little to one side."""
    move = np.zeros((len(head.vertices_mm), 3))
    below = np.clip((-45.0 - head.vertices_mm[:, 1]) / 70.0, 0.0, 1.0)
    before = np.clip((head.vertices_mm[:, 2] + 90.0) / 60.0, 0.0, 1.0)
    move[:, 0] = rng.normal(0.0, _JAW_MM) * below * before
    return move


def _nose(head: Head, rng: np.random.Generator) -> Array:
    """A nose that leans from the root on, or bends halfway; its base moves less than its ridge."""
    root, tip = (np.asarray(head.point(name), dtype=float) for name in ("nose_root", "nose_tip"))
    down = np.clip((root[1] - head.vertices_mm[:, 1]) / (root[1] - tip[1]), 0.0, 1.0)
    if rng.random() < 0.4:
        down = np.clip((down - 0.4) / 0.6, 0.0, 1.0)
    base = float(head.point("nose_wing_own_left")[2])
    out = np.clip((head.vertices_mm[:, 2] - base) / (tip[2] - base), 0.0, 1.0)
    move = np.zeros((len(head.vertices_mm), 3))
    share = (
        soft_region(("NOSE", "NOSTRIL"), 3) * down * (0.4 + 0.6 * np.where(down < 1.0, 1.0, out))
    )
    move[:, 0] = rng.normal(0.0, LEAN_MM) * share
    return move


def _brows(head: Head, rng: np.random.Generator) -> Array:
    move = np.zeros((len(head.vertices_mm), 3))
    both = rng.normal(0.0, BROWS_MM)
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        height = both + sign * rng.normal(0.0, UNEVEN_BROWS_MM)
        middle = head.point(f"brow_{side}") + np.array([0.0, 5.0, 0.0])
        move[:, 1] += height * _hill(head, middle, np.array([16.0, 7.0, 20.0]))
    return move


def _ears_turned(head: Head, vertices: Array, rng: np.random.Generator) -> Array:
    """Each ear swung out or in about an upright line before it."""
    vertices = vertices.copy()
    both = rng.normal(0.0, EARS_DEG)
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        out_deg = max(both + rng.normal(0.0, UNEVEN_EARS_DEG), -9.0)
        hinge = np.asarray(head.point(f"tragus_{side}"), dtype=float)
        share = soft_region((f"EAR_{side.upper()}",), 2)
        behind = np.clip((hinge[2] + 4.0 - vertices[:, 2]) / 10.0, 0.0, 1.0)
        turn = np.radians(out_deg) * share * behind
        back, aside = hinge[2] - vertices[:, 2], sign * (vertices[:, 0] - hinge[0])
        vertices[:, 0] = hinge[0] + sign * (aside * np.cos(turn) + back * np.sin(turn))
        vertices[:, 2] = hinge[2] - (back * np.cos(turn) - aside * np.sin(turn))
    return vertices


def _lids_turned(head: Head, vertices: Array, rng: np.random.Generator) -> Array:
    """Each eye's lids drawn apart or together over the eyeball, the upper one mostly."""
    vertices = vertices.copy()
    both = rng.normal(0.0, LIDS_MM)
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        open_mm = both + sign * rng.normal(0.0, UNEVEN_LIDS_MM)
        centre = np.asarray(head.eye_centre_mm[side], dtype=float)
        turn = np.zeros(len(vertices))
        for name, part in (("lid_upper", 0.75), ("lid_lower", -0.25)):
            middle = np.asarray(head.point(f"{name}_{side}"), dtype=float)
            wide = np.array([9.0, 2.8 if part > 0 else 2.2, 9.0])
            turn += part * open_mm / head.eye_radius_mm * _hill(head, middle, wide)
        turn[load_template().eyeball_vertices[side]] = 0.0
        up, out = vertices[:, 1] - centre[1], vertices[:, 2] - centre[2]
        vertices[:, 1] = centre[1] + up * np.cos(turn) + out * np.sin(turn)
        vertices[:, 2] = centre[2] + out * np.cos(turn) - up * np.sin(turn)
    return vertices


def save_face(face: Face, path: Path) -> None:
    """Keep a face as an npz file."""
    kept: dict[str, Any] = {
        "vertices_mm": face.head.vertices_mm,
        "neck_pivot_mm": face.head.neck_pivot_mm,
        "eye_radius_mm": face.head.eye_radius_mm,
        "shares": (face.female_share, face.old_share),
    }
    kept |= {f"centre_{side}": face.head.eye_centre_mm[side] for side in SIDES}
    kept |= {f"pull_{name}": mm.astype(np.float32) for name, mm in face.pulls_mm.items()}
    np.savez_compressed(path, **kept)


def load_face(path: Path) -> Face:
    """The face that ``save_face`` kept."""
    with np.load(path) as kept:
        head = dataclasses.replace(
            build_head(),
            vertices_mm=kept["vertices_mm"],
            neck_pivot_mm=kept["neck_pivot_mm"],
            eye_radius_mm=float(kept["eye_radius_mm"]),
            eye_centre_mm={side: kept[f"centre_{side}"] for side in SIDES},
        )
        return Face(
            head=head,
            female_share=float(kept["shares"][0]),
            old_share=float(kept["shares"][1]),
            pulls_mm={name: kept[f"pull_{name}"].astype(np.float64) for name in PULLED},
        )
