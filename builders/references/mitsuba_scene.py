"""The studio rebuilt for Mitsuba 3, an independent path tracer: head, key, fill, camera.

Shares with the package only the posed mesh and the meaning of a set-up; light and picture are
Mitsuba's own. Skin is matte with the same reflectance everywhere.
"""

import math
from collections.abc import Sequence
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes, direction_from_angles
from sitwell.head.regions import Region
from sitwell.scene.setup import Setup

VARIANT = "scalar_rgb"
Array = NDArray[np.float64]


def to_world(rows: Array, place: Array, scale: float = 1.0) -> Any:
    """Mitsuba's transform of an object from its own axes (rows) and its place."""
    matrix = np.eye(4)
    matrix[:3, :3] = np.stack(list(rows), axis=1) * scale
    matrix[:3, 3] = place
    return mitsuba.ScalarTransform4f(matrix)


def mesh(vertices_mm: Array, triangles: NDArray[np.int32], reflectance: float) -> Any:
    """A matte mesh, faceted as the package lights it."""
    properties = mitsuba.Properties()
    properties["bsdf"] = mitsuba.load_dict(
        {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": grey(reflectance)}}
    )
    made = mitsuba.Mesh(
        "head", len(vertices_mm), len(triangles), has_vertex_normals=False, props=properties
    )
    values = mitsuba.traverse(made)
    values["vertex_positions"] = vertices_mm.astype(np.float32).ravel()
    values["faces"] = triangles.astype(np.uint32).ravel()
    values.update()
    return made


def grey(value: float) -> dict[str, Any]:
    """A colour of three equal parts."""
    return {"type": "rgb", "value": [value, value, value]}


def key_disc(setup: Setup, strength: float, place_mm: Array | None = None) -> dict[str, Any]:
    """The key as an evenly bright disc that faces the sitter's eyes.

    ``strength`` is the luminance it gives white skin that faces it at the eyes, by the exact view
    factor of a parallel disc, a^2 / (a^2 + d^2).
    """
    towards = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    place = setup.key_distance_mm * towards if place_mm is None else place_mm
    radius = 0.5 * setup.key_size_mm
    share = radius**2 / (radius**2 + setup.key_distance_mm**2)
    axes = camera_axes(np.zeros(3), towards)
    return {
        "type": "disk",
        "to_world": to_world(axes, place, radius),
        "emitter": {"type": "area", "radiance": grey(strength / share)},
    }


def fill_dome(strength: float) -> dict[str, Any]:
    """Even light from all round; white skin that sees all of its half has this luminance."""
    return {"type": "constant", "radiance": grey(strength)}


def film(width: int, height: int) -> dict[str, Any]:
    """A picture of luminance whose pixels are plain boxes."""
    return {
        "type": "hdrfilm",
        "width": width,
        "height": height,
        "rfilter": {"type": "box"},
        "pixel_format": "luminance_alpha",
        "component_format": "float32",
    }


def camera(lens_mm: Array, axes: Array, half_width: float, side_px: int) -> dict[str, Any]:
    """A square perspective picture; ``half_width`` is its edge's tangent, axes as in Camera."""
    right, up, backward = axes
    return {
        "type": "perspective",
        "fov": 2.0 * math.degrees(math.atan(half_width)),
        # Mitsuba's cameras look along +z with +x to the left
        "to_world": to_world(np.array([-right, up, -backward]), lens_mm),
        "near_clip": 10.0,
        "far_clip": 1e5,
        "film": film(side_px, side_px),
    }


def render(scene: Any, depth: int, samples: int) -> Array:
    """Luminance (H, W) of what is hit; depth 2 is direct light alone, more lets light bounce."""
    integrator = mitsuba.load_dict(
        {"type": "path", "max_depth": depth, "rr_depth": 100, "hide_emitters": True}
    )
    picture = np.array(mitsuba.render(scene, integrator=integrator, spp=samples, seed=1))
    luminance, covered = np.moveaxis(picture.astype(np.float64), -1, 0)
    return luminance / np.maximum(covered, 1e-9)


def shown(scene: Any) -> NDArray[np.int64]:
    """Number (H, W) of the head's triangle in each pixel, -1 beside it; no light in this scene."""
    which = mitsuba.load_dict({"type": "aov", "aovs": "which:prim_index,depth:depth"})
    *_, index, depth = np.moveaxis(np.array(mitsuba.render(scene, integrator=which, spp=1)), -1, 0)
    return np.where(depth > 0.0, index, -1).astype(np.int64)


def mean_by_region(
    picture: Array, index: NDArray[np.int64], region_of_triangle: Sequence[int]
) -> tuple[Array, NDArray[np.int64]]:
    """Sum of luminance and count of pixels by region (37,)."""
    on = index >= 0
    region = np.asarray(region_of_triangle)[index[on]]
    sums = np.bincount(region, weights=picture[on], minlength=len(Region))
    return sums, np.bincount(region, minlength=len(Region))
