"""Sittings drawn in seconds: faces of our own sliders or of the second family, and their truth.

``python -m builders.families.quick_sittings FOLDER --heads ARRAYS``. The folder is one of
``traced/sittings.py``: six frames a sitter by one lens, the first level, turns to 70 degrees. Drawn
with the small canvas: pores, blotches and shine on skin, brows and hair of strokes, one key with
its shadow and some light from all round. Nobody wears anything.
"""

import argparse
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from builders.families.wrapped_heads import second_faces
from builders.pictures.camera import background, photographed
from builders.pictures.canvas import (
    SKIN,
    SURFACE,
    Canvas,
    Mesh,
    View,
    draw_mesh,
    draw_strokes,
)  # fmt: skip
from builders.pictures.hair import Hair, grow_brows, grow_hair, smooth_noise
from builders.pictures.light import from_all_round, lit, rays_of
from builders.pictures.scene import Scene, posed_scene
from builders.pictures.skin import roughened
from builders.traced.faces import PULLED, Face, save_face, with_vertices
from builders.traced.sittings import TURN_BANDS_DEG, Shot
from sitwell.base.files import make_atomically, write_atomically
from sitwell.base.rotations import camera_axes, direction_from_angles, rotation_from_pose
from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM
from sitwell.face.parts import Part
from sitwell.head.pose import HeadPose, rotation_from_vector
from sitwell.head.prior import shape_sigma
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head, head_from_values
from sitwell.head.template import load_template

Array = NDArray[np.float64]
SIZE_PX, FINE = 640, 1.5
_FACE_SHARE = 0.42  # of the picture that 160 mm cover at the usual distance
_NEARER, _ASIDE, _BLUR = 0.25, 0.06, 2.0
_MOST_GAZE = np.radians(30.0)
# What our own faces pull, by names of the head's expressions; names are those of other_faces.PULLED
_PULLS: Mapping[str, tuple[str, ...]] = {
    "smile": ("mouth_smile", "cheek_squint"),
    "blink": ("eye_blink",),
    "squint": ("eye_squint",),
    "brows": ("brow_inner_up", "brow_outer_up"),
    "talk": ("jaw_open",),
    "pressed": ("mouth_press",),
}
_WEAKER = {"talk": 0.3}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sitter:
    """All that stays the same from frame to frame."""

    face: Face
    skin: Array
    hair: Hair
    colours: NDArray[np.float32]
    gloss: float
    usual_mm: float
    grain: int

    @property
    def focal_px(self) -> float:
        """The lens that shows the face at its usual size from the usual distance."""
        return _FACE_SHARE * SIZE_PX / 160.0 * self.usual_mm


def own_faces(count: int, seed: int) -> list[Face]:
    """Faces of our own sliders, as uneven as people."""
    template = load_template()
    names = template.expression_names
    still = np.zeros(len(names), dtype=np.float32)
    mean = head_from_values(template, np.zeros(len(shape_sigma()), np.float32), still)
    pulls = {}
    for name, units in _PULLS.items():
        own = np.array([_WEAKER.get(name, 1.0) * unit.startswith(units) for unit in names])
        posed = head_from_values(template, mean.shape, own.astype(np.float32))
        pulls[name] = (posed.vertices_mm - mean.vertices_mm).astype(np.float64)
    faces = []
    for index in range(count):
        rng = np.random.default_rng((seed, index))
        shape = rng.normal(size=len(shape_sigma())) * shape_sigma()
        head = head_from_values(template, shape.astype(np.float32), still)
        faces.append(Face(head=head, female_share=0.5, old_share=0.5, pulls_mm=pulls))
    return faces


def draw_sittings(folder: Path, count: int, seed: int, arrays: Path | None) -> None:
    """Draw those of the first ``count`` sitters that the folder does not hold yet."""
    if (folder / f"sitting-{count - 1:03d}" / f"frame-{len(TURN_BANDS_DEG) - 1}.json").exists():
        return
    faces = own_faces(count, seed) if arrays is None else second_faces(arrays, count, seed)
    for index, face in enumerate(faces):
        place = folder / f"sitting-{index:03d}"
        if (place / f"frame-{len(TURN_BANDS_DEG) - 1}.json").exists():
            continue
        rng = np.random.default_rng((seed, index, 1))
        sitter = _sitter(face, rng)
        make_atomically(place / "face.npz", partial(save_face, face))
        equivalent = sitter.focal_px / (SIZE_PX * np.sqrt(2.0)) * FULL_FRAME_DIAGONAL_MM
        facts = {
            "focal_35_mm": float(equivalent), "tone": float(sitter.skin.mean()),
            "hair": sitter.hair.style, "stubble": 0.0,
        }  # fmt: skip
        write_atomically(place / "sitter.json", json.dumps(facts, indent=1))
        for number in range(len(TURN_BANDS_DEG)):
            shot = _taken(place, number, sitter, np.random.default_rng((seed, index, 2, number)))
            write_atomically(place / f"frame-{number}.json", json.dumps(asdict(shot), indent=1))


def _sitter(face: Face, rng: np.random.Generator) -> _Sitter:
    tone = float(np.exp(rng.uniform(np.log(0.04), np.log(0.55))))
    skin = tone * np.array([1.0, rng.uniform(0.6, 0.76), rng.uniform(0.42, 0.62)])
    hair = grow_hair(face.head, rng)
    while hair.style in ("long", "medium"):  # ears are to be seen
        hair = grow_hair(face.head, rng)
    return _Sitter(
        face=face,
        skin=skin,
        hair=hair,
        colours=_colours(face.head, skin, hair, rng),
        gloss=float(np.exp(rng.uniform(np.log(0.01), np.log(0.06)))),
        usual_mm=float(rng.uniform(1100, 2400)),
        grain=int(rng.integers(1 << 30)),
    )


def _colours(head: Head, skin: Array, hair: Hair, rng: np.random.Generator) -> NDArray[np.float32]:
    """A linear colour (V, 3) for each vertex."""
    names = [Region(region).name for region in range(len(Region))]
    colours = skin * (1.0 + 0.06 * smooth_noise(head.vertices_mm, 14.0, rng)[:, :1])
    lip = np.array([0.85, rng.uniform(0.4, 0.7), rng.uniform(0.45, 0.75)])
    brow = rng.uniform(0.2, 0.7)
    painted = {
        "LIP_": skin * lip,
        "NOSTRIL": skin * 0.12,
        "SOCKET": skin * 0.12,
        "WHITE": np.full(3, rng.uniform(0.3, 0.55)),
        "IRIS": rng.uniform(0.02, 0.15, 3),
        "BROW": (1.0 - brow) * skin + brow * hair.colour,
    }
    for start, colour in painted.items():
        own = np.array([name.startswith(start) for name in names])[head.region_of_triangle]
        colours[np.unique(head.triangles[own])] = colour
    for side in SIDES:
        colours[load_template().eyeball_vertices[side][:1]] = 0.005
    scalp = np.unique(head.triangles[hair.grows])
    colours[scalp] = (1.0 - hair.cover) * colours[scalp] + hair.cover * hair.colour
    return np.clip(colours, 0.003, 0.95).astype(np.float32)


def _taken(place: Path, number: int, sitter: _Sitter, rng: np.random.Generator) -> Shot:
    """Draw one picture and say what is true of it."""
    band = TURN_BANDS_DEG[number]
    turn = float(rng.uniform(*band) * rng.choice([-1.0, 1.0]))
    chin, tilt = (0.0, 0.0) if number == 0 else (rng.uniform(-14, 14), rng.uniform(-12, 12))
    away = sitter.usual_mm * float(rng.uniform(1.0 - _NEARER, 1.0 + _NEARER))
    aside = rng.uniform(-_ASIDE, _ASIDE, 2) * SIZE_PX / sitter.focal_px
    put = away * np.array([aside[0], aside[1], -1.0]) / np.sqrt(1.0 + aside @ aside)
    sight = camera_axes(np.zeros(3), put)
    pose = HeadPose(rotation=sight.T @ rotation_from_pose(turn, chin, tilt), place_mm=put)
    pulled = _pulled(rng) if number else {}
    head = _looking(sitter.face.pulled(pulled), pose, rng)
    azimuth, elevation = float(rng.uniform(-80, 80)), float(np.clip(rng.normal(30, 20), -25, 65))
    toward = sight.T @ direction_from_angles(azimuth, elevation)
    rgb = _picture(sitter, head, pose, toward, rng)
    file = f"frame-{number}.jpg"
    picture = Image.fromarray(rgb)
    make_atomically(place / file, lambda to: picture.save(to, quality=95, subsampling=0))
    return Shot(
        file=file,
        turn_deg=turn,
        chin_deg=float(chin),
        tilt_deg=float(tilt),
        place_mm=(float(put[0]), float(put[1]), float(put[2])),
        key_azimuth_deg=azimuth,
        key_elevation_deg=elevation,
        pulled=pulled,
        covers={},
        ears_shown=(1.0, 1.0),
    )


def _pulled(rng: np.random.Generator) -> dict[str, float]:
    """A still face half of the time, or one or two expressions."""
    if rng.random() < 0.5:
        return {}
    names = rng.choice(list(PULLED), size=int(rng.integers(1, 3)), replace=False)
    return {str(name): float(rng.uniform(0.2, min(PULLED[str(name)][1], 1.0))) for name in names}


def _looking(head: Head, pose: HeadPose, rng: np.random.Generator) -> Head:
    """The eyes turned toward the lens, as far as they turn, more often than not."""
    if rng.random() < 0.4:
        return head
    lens = -pose.rotation.T @ pose.place_mm / pose.distance_mm
    axis = np.cross([0.0, 0.0, 1.0], lens)
    angle = min(float(np.arccos(np.clip(lens[2], -1.0, 1.0))), _MOST_GAZE)
    turn = rotation_from_vector(angle * axis / max(float(np.linalg.norm(axis)), 1e-9))
    vertices = head.vertices_mm.astype(np.float64)
    for side in SIDES:
        ball, centre = load_template().eyeball_vertices[side], head.eye_centre_mm[side]
        vertices[ball] = centre + (vertices[ball] - centre) @ turn.T
    return with_vertices(head, vertices)


def _picture(
    sitter: _Sitter, head: Head, pose: HeadPose, toward: Array, rng: np.random.Generator
) -> NDArray[np.uint8]:
    fine = round(FINE * SIZE_PX)
    axes = np.eye(2, dtype=np.float32) * np.float32(sitter.focal_px * FINE)
    view = View(axes=axes, origin=np.full(2, fine / 2, np.float32))
    same = np.random.default_rng(sitter.grain)  # what must be alike in all frames
    strokes = [grow_brows(sitter.face.head, sitter.hair.colour, same)]
    strokes += [sitter.hair.strokes] if sitter.hair.strokes is not None else []
    scene = Scene(meshes=[_mesh(sitter, head)], strokes=strokes, panes=[], dark=0.0)
    place = pose.place_mm.astype(np.float32)
    posed = posed_scene(scene, pose.rotation.astype(np.float32), place)
    canvas = Canvas.empty(fine, fine)
    for mesh in posed.meshes:
        draw_mesh(canvas, view, mesh)
    for each in posed.strokes:
        draw_strokes(canvas, view, each)
    roughened(
        canvas, rays_of(canvas, view), pose.rotation.astype(np.float32), place,
        np.random.default_rng(sitter.grain),
    )  # fmt: skip
    key = np.r_[toward, rng.uniform(0.5, 1.2) * np.exp(rng.normal(0, 0.08, 3))]
    linear = lit(canvas, view, posed, place, from_all_round(key[None], rng))
    behind = background(fine, rng)
    linear = np.where(canvas.near[..., None] > 0, linear, behind)
    return photographed(linear, (SIZE_PX, SIZE_PX), _BLUR * rng.uniform(0.2, 1.0), rng)


def _mesh(sitter: _Sitter, head: Head) -> Mesh:
    names = [Region(region).name for region in range(len(Region))]
    region = head.region_of_triangle
    is_eye = np.array([name.startswith(("WHITE", "IRIS")) for name in names])[region]
    is_hair = sitter.hair.grows & (sitter.hair.cover > 0.3)
    return Mesh(
        points_mm=head.vertices_mm,
        triangles=head.triangles,
        colours=sitter.colours,
        label=np.where(is_hair, Part.HAIR, Part.SKIN).astype(np.uint8),
        kind=np.where(is_eye | is_hair, SURFACE, SKIN).astype(np.uint8),
        gloss=np.where(is_eye, 0.7, np.where(is_hair, 0.02, sitter.gloss)).astype(np.float32),
    )


def main() -> None:
    """Draw."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--heads", type=Path, help="the second family's arrays; else our own faces")
    parser.add_argument("--faces", type=int, default=24)
    parser.add_argument("--seed", type=int, default=8)
    arguments = parser.parse_args()
    draw_sittings(arguments.folder, arguments.faces, arguments.seed, arguments.heads)


if __name__ == "__main__":
    main()
