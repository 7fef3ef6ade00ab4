"""Glare: whether a pane of the sitter's glasses mirrors the key into the lens."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.scene.definitions import both_sides
from sitwell.scene.light import source_angle_rad
from sitwell.scene.lighting import key_place_mm
from sitwell.scene.view import View

Floats = NDArray[np.float64]

MEASURES = both_sides(
    "glare_{}_deg",
    "deg",
    "How far the key stands from where the {} pane mirrors it into the lens; negative = glare, "
    "nan without glasses.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Glasses:
    """Two flat panes before the eyes, in millimetres and degrees.

    ``tilt_deg`` leans the pane's top forward, which is what raising the temples does;
    ``wrap_deg`` turns each pane outward. Sizes are usual ones (common practice, no source).
    """

    width_mm: float = 50.0
    height_mm: float = 36.0
    ahead_mm: float = 26.0
    tilt_deg: float = 8.0
    wrap_deg: float = 5.0


def glare_measures(view: View, glasses: Glasses | None) -> tuple[float, ...]:
    """Values in the order of MEASURES."""
    if glasses is None:
        return math.nan, math.nan
    return _margin_deg(view, glasses, 0, 1.0), _margin_deg(view, glasses, 1, -1.0)


def _margin_deg(view: View, glasses: Glasses, eye: int, side: float) -> float:
    """Least angle between the mirrored line of sight and the key's edge, over one pane."""
    normal = view.rotation @ _normal(glasses, side)
    points = view.studio_from_head(_pane(view.anatomy.eyes[eye].centre_mm, glasses, side))
    sight = _unit(view.camera.lens_mm - points)
    mirrored = 2.0 * (sight @ normal)[:, None] * normal - sight
    key = key_place_mm(view.setup)
    towards = _unit(key - points)
    angles_deg = np.degrees(np.arccos(np.clip((mirrored * towards).sum(axis=1), -1.0, 1.0)))
    half = source_angle_rad(view.setup.key_size_mm, view.setup.key_distance_mm)
    return float(angles_deg.min()) - math.degrees(half)


def _normal(glasses: Glasses, side: float) -> Floats:
    tilt, wrap = math.radians(glasses.tilt_deg), math.radians(glasses.wrap_deg)
    return np.array(
        [side * math.sin(wrap) * math.cos(tilt), -math.sin(tilt), math.cos(wrap) * math.cos(tilt)]
    )


def _pane(eye_mm: Floats, glasses: Glasses, side: float) -> Floats:
    """Five by five points (25, 3) over the pane, head frame."""
    normal = _normal(glasses, side)
    across = _unit(np.cross([0.0, 1.0, 0.0], normal)[None, :])[0]
    up = np.cross(normal, across)
    steps = np.linspace(-0.5, 0.5, 5)
    grid_x, grid_y = np.meshgrid(steps * glasses.width_mm, steps * glasses.height_mm)
    middle = eye_mm + np.array([0.0, 0.0, glasses.ahead_mm])
    return middle + grid_x.reshape(-1, 1) * across + grid_y.reshape(-1, 1) * up


def _unit(vectors: Floats) -> Floats:
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)
