"""Pictures of invented heads at a known pose under known light, ray by ray with Embree.

Lambert shading with cast shadows in linear light, one colour a region, encoded as sRGB. Used to
learn and to test how faces are read; a picture of no person.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from embreex import rtcore_scene
from embreex.mesh_construction import TriangleMesh
from numpy.typing import NDArray

from sitwell.base.rotations import direction_from_angles, rotation_from_pose
from sitwell.head.pose import HeadPose
from sitwell.head.regions import Region
from sitwell.head.surface import Head

Array = NDArray[np.float64]
_GROUND = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Light from one direction in the camera's axes, as irradiance on a surface that faces it.

    ``size_deg`` is the source's half angle; the light is cast from ``samples`` spots within it.
    """

    azimuth_deg: float
    elevation_deg: float
    strength: float = 1.0
    size_deg: float = 12.0
    samples: int = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Linear colours (3,) of what a head is made of; no colour stands for any person."""

    skin: Array = field(default_factory=lambda: np.array([0.45, 0.30, 0.22]))
    lips: Array = field(default_factory=lambda: np.array([0.35, 0.14, 0.13]))
    hair: Array = field(default_factory=lambda: np.array([0.05, 0.035, 0.025]))
    iris: Array = field(default_factory=lambda: np.array([0.08, 0.06, 0.04]))


def pose_at(turn_deg: float, chin_deg: float, tilt_deg: float, distance_mm: float) -> HeadPose:
    """A head straight ahead of the lens, so that seen and axis angles agree."""
    return HeadPose(
        rotation=rotation_from_pose(turn_deg, chin_deg, tilt_deg),
        place_mm=np.array([0.0, 0.0, -distance_mm]),
    )


def render(
    head: Head,
    pose: HeadPose,
    *,
    focal_px: float,
    size_px: tuple[int, int],
    lights: Sequence[Light],
    ambient: float = 0.15,
    look: Look | None = None,
    seed: int = 0,
) -> NDArray[np.uint8]:
    """The picture (h, w, 3) in sRGB; ``size_px`` is width and height, the axis in the middle."""
    vertices = (head.vertices_mm @ pose.rotation.T + pose.place_mm).astype(np.float32)
    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(vertices[head.triangles]))
    width, height = size_px
    x, y = np.meshgrid(np.arange(width) + 0.5 - width / 2, height / 2 - np.arange(height) - 0.5)
    rays = np.stack([x, y, np.full_like(x, -focal_px)], axis=-1).reshape(-1, 3)
    rays = (rays / np.linalg.norm(rays, axis=1, keepdims=True)).astype(np.float32)
    hit = scene.run(np.zeros_like(rays), rays, output=1)
    struck = hit["primID"] >= 0
    triangle = hit["primID"][struck]
    normal = _normals(vertices, head, triangle, hit["u"][struck], hit["v"][struck])
    spot = rays[struck] * hit["tfar"][struck, None] + 0.05 * normal
    bright = np.full(len(spot), ambient)
    rng = np.random.default_rng(seed)
    for light in lights:
        bright += _lit(scene, spot, normal, light, rng)
    colour = np.full((len(rays), 3), _GROUND)
    colour[struck] = bright[:, None] * _colours(head, look or Look())[triangle]
    return _encoded(colour).reshape(height, width, 3)


def _normals(vertices: Array, head: Head, triangle: Array, u: Array, v: Array) -> Array:
    """Smooth normals (n, 3): corner normals weighted by area, mixed across the triangle."""
    corners = vertices[head.triangles]
    faces = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    at_vertex = np.zeros_like(vertices)
    for corner in range(3):
        np.add.at(at_vertex, head.triangles[:, corner], faces)
    mixed = np.einsum(
        "nc,nca->na", np.stack([1 - u - v, u, v], axis=1), at_vertex[head.triangles[triangle]]
    )
    return mixed / np.maximum(np.linalg.norm(mixed, axis=1, keepdims=True), 1e-9)


def _lit(
    scene: rtcore_scene.EmbreeScene,
    spot: Array,
    normal: Array,
    light: Light,
    rng: np.random.Generator,
) -> Array:
    total = np.zeros(len(spot))
    middle = direction_from_angles(light.azimuth_deg, light.elevation_deg)
    for _ in range(light.samples):
        aside = rng.normal(size=3) * np.tan(np.radians(light.size_deg)) / 2
        toward = middle + aside - (aside @ middle) * middle
        toward = (toward / np.linalg.norm(toward)).astype(np.float32)
        facing = np.clip(normal @ toward, 0.0, None)
        rays = np.broadcast_to(toward, spot.shape)
        blocked = scene.run(
            np.ascontiguousarray(spot, dtype=np.float32),
            np.ascontiguousarray(rays, dtype=np.float32),
            query="OCCLUDED",
        )
        total += np.where(blocked >= 0, 0.0, facing)
    return light.strength * total / light.samples


def _colours(head: Head, look: Look) -> Array:
    """Linear colour (T, 3) of every triangle."""
    by_region = np.tile(look.skin, (max(Region) + 1, 1))
    brow = 0.5 * look.skin + 0.5 * look.hair
    for region in Region:
        name = region.name
        if name == "SCALP":
            by_region[region] = look.hair
        elif name.startswith("BROW"):
            by_region[region] = brow
        elif name.startswith("LIP_"):
            by_region[region] = look.lips
        elif name.startswith("IRIS"):
            by_region[region] = look.iris
        elif name.startswith("WHITE"):
            by_region[region] = 0.6
        elif name.startswith(("NOSTRIL", "SOCKET")):
            by_region[region] = look.skin * 0.15
    return by_region[head.region_of_triangle]


def _encoded(linear: Array) -> NDArray[np.uint8]:
    """Linear light to sRGB bytes (IEC 61966-2-1)."""
    clipped = np.clip(linear, 0.0, 1.0)
    curve = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return np.round(255.0 * curve).astype(np.uint8)
