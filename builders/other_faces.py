"""Faces of another kind than the reading learned from, photographed by another renderer.

Used by ``benchmarks/accuracy_other_faces.py``; nothing of it is kept. The shapes are mixes of the
CC0 source's own grown-up faces, which our shape sliders do not contain; skin is blotched, rough and
glossy, eyes are wet, light bounces in a grey room and grain lies over all (Mitsuba 3). The mesh
underneath is the same source's, so this is a test of unlike shape and light, not of people.
"""

import re
from dataclasses import dataclass
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray

from builders import reference_scene as studio
from builders.face_views import focal_of, photo_of
from builders.head_calibrate import calibrate, neutral_dm
from builders.head_form import grow
from builders.head_mesh import crop_head
from builders.head_modes import shape_modes
from builders.head_paint import ear_triangles
from builders.head_sliders import displacement
from builders.head_source import Source
from sitwell.base.rotations import camera_axes, direction_from_angles, rotation_from_pose
from sitwell.face.landmarks import FaceReading, find_faces
from sitwell.head.pose import HeadPose, Sighting
from sitwell.head.regions import Region
from sitwell.head.surface import LID_CLEARANCE_MM
from sitwell.head.template import load_template

Array = NDArray[np.float64]
SIZE_PX, SAMPLES, BOUNCES = 400, 24, 4
FACE_SHARE = 0.47  # of the picture that 160 mm cover
GRAIN = 0.015
# Seen turns of a sitter's frames; the first is their level frame.
TURN_BANDS_DEG = ((0.0, 0.0), (5.0, 20.0), (5.0, 20.0), (20.0, 45.0), (20.0, 45.0), (45.0, 70.0))
_GROWN = re.compile(r"macrodetails/[a-z]+-(fe)?male-(young|old)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One picture, what it was and what the landmarker saw in it (None: no face)."""

    pose: HeadPose
    key_deg: tuple[float, float]
    rgb: NDArray[np.uint8]
    sighting: Sighting | None
    face: FaceReading | None


def mixed_faces(source: Source, count: int, rng: np.random.Generator) -> list[Array]:
    """Vertices (V, 3) mm, in the template's order, of mixes of the source's grown-up faces."""
    template, crop, modes = load_template(), crop_head(source), shape_modes(source)
    own_left = crop.triangles[: len(crop.triangles) // 2]
    ear = crop.kept[np.unique(own_left[ear_triangles(source, crop)])]
    head = grow(source, crop, calibrate(source, crop, modes, ear))
    names = [f"macrodetails/{name}" for name in source.target_names("macrodetails")]
    targets = np.stack([source.target(name) for name in names if _GROWN.match(name)])
    mean = neutral_dm(source) - source.vertices_dm
    faces = []
    for share in rng.dirichlet(np.full(len(targets), 0.4), size=count):
        mix = np.tensordot(share, targets, 1) - mean
        faces.append(_with_lids_outside(template.vertices_mm + displacement(head, mix)))
    return faces


def _with_lids_outside(vertices: Array) -> Array:
    template = load_template()
    for side, lids in template.lid_vertices.items():
        ball = template.eyeball_vertices[side]
        shift = vertices[ball[0]] - template.vertices_mm[ball[0]]
        outward = vertices[lids] - (centre := template.eye_centre_mm[side] + shift)
        far = np.linalg.norm(outward, axis=1, keepdims=True)
        least = template.eye_radius_mm + LID_CLEARANCE_MM
        vertices[lids] = centre + outward * np.maximum(far, least) / far
    return vertices


def sitting(vertices: Array, rng: np.random.Generator) -> list[Shot]:
    """A level frame and some turned ones of one face, each under a light of its own."""
    colours = _colours(vertices, rng)
    shots = []
    for number, (low, high) in enumerate(TURN_BANDS_DEG):
        turn = rng.uniform(low, high) * rng.choice([-1.0, 1.0])
        chin, tilt = (rng.uniform(-12, 12), rng.uniform(-10, 10)) if number else (0.0, 0.0)
        pose = HeadPose(
            rotation=rotation_from_pose(turn, chin, tilt),
            place_mm=np.array([0.0, 0.0, -rng.uniform(1100, 2500)]),
        )
        key_deg = (float(rng.uniform(-60, 60)), float(rng.uniform(5, 50)))
        rgb = _photograph(vertices, colours, pose, key_deg, rng)
        shots.append(_seen(pose, key_deg, rgb))
    return shots


def _seen(pose: HeadPose, key_deg: tuple[float, float], rgb: NDArray[np.uint8]) -> Shot:
    focal = focal_of(FACE_SHARE * SIZE_PX / 160.0 * pose.distance_mm, SIZE_PX)
    face = next(iter(find_faces(photo_of(rgb, focal))), None)
    sighting = None
    if face is not None:
        sighting = Sighting(
            landmarks_px=face.landmarks_px,
            centre_px=np.array([SIZE_PX, SIZE_PX]) / 2.0,
            focal=focal,
            blendshapes=face.blendshapes,
        )
    return Shot(pose=pose, key_deg=key_deg, rgb=rgb, sighting=sighting, face=face)


def _colours(vertices: Array, rng: np.random.Generator) -> Array:
    """A colour (V, 3) for each vertex: a tone for each region, blotched, the edges soft."""
    template = load_template()
    skin = np.exp(rng.uniform(np.log(0.06), np.log(0.5))) * np.array([1.0, 0.68, 0.52])
    hair, iris = skin * 0.2, rng.uniform(0.03, 0.15, size=3)
    colours = np.tile(skin, (len(vertices), 1))
    for region in Region:
        own = template.triangles[template.region_of_triangle == region]
        name = region.name
        if name == "SCALP":
            colours[own] = hair
        elif name.startswith("BROW"):
            colours[own] = 0.6 * skin + 0.4 * hair
        elif name.startswith("LIP_"):
            colours[own] = skin * (0.85, 0.55, 0.6)
        elif name.startswith(("NOSTRIL", "SOCKET")):
            colours[own] = skin * 0.2
        elif name.startswith("WHITE"):
            colours[own] = (0.62, 0.58, 0.55)
        elif name.startswith("IRIS"):
            colours[own] = iris
    blotches = sum(
        amount * np.sin(vertices @ rng.normal(size=3) / size + rng.uniform(0, 6.3))
        for size, amount in ((25.0, 0.05), (9.0, 0.05), (4.0, 0.06), (2.0, 0.05))
    )
    return np.asarray(np.clip(colours * (1.0 + np.asarray(blotches)[:, None]), 0.005, 0.95))


def _photograph(
    vertices: Array,
    colours: Array,
    pose: HeadPose,
    key_deg: tuple[float, float],
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    """The picture (h, w, 3) in sRGB, a window or softbox as key, a grey room round all."""
    template, away = load_template(), pose.distance_mm
    posed = vertices @ pose.rotation.T
    is_eye = np.isin(
        template.region_of_triangle, [r for r in Region if r.name.startswith(("WHITE", "IRIS"))]
    )
    key_mm = direction_from_angles(*key_deg) * rng.uniform(900, 2200)
    size_mm, axes = rng.uniform(200, 500), camera_axes(np.zeros(3), key_mm)
    radiance = 0.9 * float(1.0 + key_mm @ key_mm / size_mm**2)
    scene = mitsuba.load_dict(
        {
            "type": "scene",
            "skin": _mesh(posed, colours, template.triangles[~is_eye], 0.45),
            "eyes": _mesh(posed, colours, template.triangles[is_eye], 0.08),
            "key": {
                "type": "disk",
                "to_world": studio.to_world(axes, key_mm, size_mm),
                "emitter": {"type": "area", "radiance": studio.grey(radiance)},
            },
            "room": studio.fill_dome(rng.uniform(0.12, 0.35)),
            "camera": studio.camera(
                np.array([0.0, 0.0, away]), np.eye(3), 160.0 / FACE_SHARE / 2.0 / away, SIZE_PX
            )
            | {"film": {"type": "hdrfilm", "width": SIZE_PX, "height": SIZE_PX}},
        }
    )
    integrator = mitsuba.load_dict({"type": "path", "max_depth": BOUNCES, "hide_emitters": True})
    linear = np.array(mitsuba.render(scene, integrator=integrator, spp=SAMPLES))[..., :3]
    linear = linear + rng.normal(size=linear.shape) * GRAIN * np.sqrt(np.clip(linear, 0.02, 1.0))
    picture = mitsuba.Bitmap(np.clip(linear, 0.0, 1.0).astype(np.float32))
    kind = mitsuba.Struct.Type.UInt8
    return np.asarray(picture.convert(mitsuba.Bitmap.PixelFormat.RGB, kind, srgb_gamma=True))


def _mesh(vertices: Array, colours: Array, triangles: NDArray[np.int32], rough: float) -> Any:
    """A smooth glossy mesh with a colour at each vertex; vertices of no triangle are dropped."""
    used, corners = np.unique(triangles, return_inverse=True)
    properties = mitsuba.Properties()
    properties["bsdf"] = mitsuba.load_dict(
        {
            "type": "principled",
            "base_color": {"type": "mesh_attribute", "name": "vertex_color"},
            "roughness": rough,
            "specular": 0.5,
        }
    )
    made = mitsuba.Mesh(
        "part", len(used), len(triangles), has_vertex_normals=True, props=properties
    )
    made.add_attribute("vertex_color", 3, colours[used].ravel().tolist())
    values = mitsuba.traverse(made)
    values["vertex_positions"] = vertices[used].astype(np.float32).ravel()
    values["faces"] = corners.astype(np.uint32).ravel()
    values.update()
    made.recompute_vertex_normals()
    return made
