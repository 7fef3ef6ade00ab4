"""Frames of a head by itself, drawn in a second: what is read from them is known to the degree.

Tests and benchmarks take them, of any head and in any skin. The demo's own frames are of people
with hair and clothes (``builders/sitters/``).
"""

import json
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sitwell import demo
from sitwell.base.files import write_atomically
from sitwell.base.formats import named
from sitwell.demo_sitters import SITTERS
from sitwell.head.facing import vertex_normals
from sitwell.head.regions import EYE, Region
from sitwell.head.surface import SIDES, Head
from sitwell.scene.camera import sensor_scale_mm
from sitwell.scene.framing import picture_size_mm
from sitwell.scene.preview import Sculpture
from sitwell.scene.preview_shade import shade
from sitwell.scene.refine import refine
from sitwell.scene.setup import Setup
from sitwell.scene.view import View

SHAPE = SITTERS[0].shape
HEIGHT_PX = 1800
SPOT_MM = 1.6
MARKED = ("ear_top", "ear_outer", "ear_lobe")


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """A frame (H, W, 3) and the way from the head to its pixels; valid until the next one.

    ``covered`` (H, W) is where head and body stand before the background.
    """

    rgb: NDArray[np.uint8]
    covered: NDArray[np.bool_]
    view: View
    window: tuple[float, float, float]

    def place_px(self, name: str) -> tuple[float, float]:
        """Pixels, x to the right and y down from the top left corner, of a named point."""
        x, y, _ = self.view.camera.project(self.view.point_mm(name))
        left, top, scale = self.window
        return float((x - left) * scale), float((top - y) * scale)


def photographed(sculpture: Sculpture, setup: Setup, height_px: int) -> Photograph:
    """The whole upright frame as the set-up's sensor would record it, aimed at the head.

    The lens's axis meets the picture's middle, so that a reading of the picture can be held
    against the set-up. Unlike a preview it is sharp all over.
    """
    view = sculpture.view(setup)
    width_mm, height_mm = picture_size_mm(setup)
    width_px = round(height_px * width_mm / height_mm)
    focus_mm = float(view.camera.project(view.eyes_mm)[2])
    scale = height_px / height_mm * sensor_scale_mm(setup, focus_mm)
    window = (-0.5 * width_px / scale, 0.5 * height_px / scale, scale)
    rgb = np.empty((height_px, width_px, 3), dtype=np.uint8)
    nearness = np.empty((height_px, width_px), dtype=np.float32)
    shade(sculpture.scene_in(view, window), rgb, nearness)
    return Photograph(rgb=rgb, covered=nearness > 0.0, view=view, window=window)


def frames_to_take() -> tuple[Setup, ...]:
    """Three test frames: level, and turned about 25 degrees to either side."""
    return SITTERS[0].taken


def painted(head: Head, albedo: float = 1.0) -> Sculpture:
    """A head in brown skin with soft blotches and small dark spots: a smear or a double shows.

    ``albedo`` is how much lighter or darker it is than the plain brown.
    """
    sculpture = Sculpture(head)
    vertices = head.vertices_mm.astype(np.float64)
    fine = refine(vertices, head.triangles, vertex_normals(vertices, head.triangles))
    bare = np.repeat(np.isin(head.region_of_triangle, [*EYE, Region.SOCKET]), 4)
    chosen = np.setdiff1d(np.arange(len(sculpture.colours)), fine.triangles[bare])
    sculpture.colours[chosen] = albedo * _brown(fine.places(vertices, np.eye(3))[chosen])
    return sculpture


def _brown(places_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear colours (N, 3) of the invented skin at places (N, 3) of the head frame."""
    waves = np.sin(places_mm @ np.array([[0.11, 0.05, 0.0], [0.0, 0.13, 0.07], [0.06, 0.0, 0.12]]))
    tone = np.array([0.30, 0.20, 0.14]) * (1.0 + 0.18 * waves)
    spots = places_mm[np.random.default_rng(7).choice(len(places_mm), 260, replace=False)]
    tone[cKDTree(spots).query(places_mm)[0] < SPOT_MM] *= 0.55
    return tone


def write_frames(
    head: Head, setups: tuple[Setup, ...], folder: Path, sculpture: Sculpture | None = None
) -> tuple[list[Path], Path]:
    """The frames as JPEG with EXIF, marked as invented, and the marks of the ears in view.

    They show ``sculpture``, the head in a skin, or the plain head.
    """
    sculpture, paths, marks = sculpture or Sculpture(head), [], {}
    for index, setup in enumerate(setups):
        shot = photographed(sculpture, setup, HEIGHT_PX)
        path = folder / f"invented-{index + 1}.jpg"
        taken = demo.TAKEN + timedelta(seconds=20 * index)
        paths.append(demo.save_frame(shot.rgb, setup, taken, path))
        marks[path.name] = ears_in_view(setup, shot)
    return paths, write_atomically(
        folder / "marks.json", json.dumps(named("marks", marks), indent=1)
    )


def ears_in_view(setup: Setup, shot: Photograph) -> dict[str, list[float]]:
    """The ears as a person would mark them: both from the front, else the near one."""
    far = {1: "own_left", -1: "own_right", 0: ""}[int(np.sign(setup.turn_deg))]
    return {
        f"{point}_{side}": [round(place) for place in shot.place_px(f"{point}_{side}")]
        for side in SIDES
        if side != far
        for point in MARKED
    }
