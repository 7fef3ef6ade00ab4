"""Measures of a rim light: on crown, ears and shoulders by itself, and whether it meets the lens.

The shoulders are those of the pictures' plain covered body, which nobody measured; head and body
shade them by one shadow map from the light's middle. Everything is nan while the light is off.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.units import ratio_from_stops, stops_from_ratio
from sitwell.head.regions import Region
from sitwell.head.surface import Head
from sitwell.scene.bust import AROUND, build_bust
from sitwell.scene.definitions import Measure, both_sides
from sitwell.scene.lighting import Lit, rim_points_mm, strength_mm2
from sitwell.scene.raster import rasterise
from sitwell.scene.rays import first_hit
from sitwell.scene.rim import CLEAR_DEG, outside_picture_deg, rim_edge_mm
from sitwell.scene.shadow import lower, to_map
from sitwell.scene.view import View

Floats = NDArray[np.float64]

_ALONE = "What the rim light alone gives {}, as seen, against the lit cheek; nan without one."
MEASURES = (
    Measure("rim_crown_stops", "stops", _ALONE.format("the top of the head")),
    *both_sides("rim_ear_{}_stops", "stops", _ALONE.format("the {} ear")),
    *both_sides("rim_shoulder_{}_stops", "stops", _ALONE.format("the {} shoulder")),
    Measure(
        "rim_flare_deg",
        "deg",
        "How far what the lens sees of the rim light keeps outside the picture's corner; negative "
        "= in the picture, 90 behind the head, nan without one.",
    ),
)
OFF = (math.nan,) * len(MEASURES)
HIDDEN_DEG = 90.0
DARKEST_STOPS = -10.0  # less light than this is none
SHOULDER_DROP_MM = 70.0  # below the neck's root: what is called the shoulder
SHOULDER_FROM_MM = 70.0  # and this far from the middle
CHEST_DROP_MM = 175.0  # what may cast a shadow on it
PIXEL_MM, MAP_PX = 4.0, 176
GAPS_MM = (4.0, 12.0)


def rim_measures(view: View, lit: Lit, shoulders: "Shoulders") -> tuple[float, ...]:
    """Values in the order of MEASURES."""
    if lit.rim is None:
        return OFF
    regions = (Region.SCALP, Region.EAR_OWN_LEFT, Region.EAR_OWN_RIGHT)
    light = (*(float(lit.rim[region]) for region in regions), *shoulders.light(view))
    return (*(max(stops_from_ratio(max(x, 1e-9)), DARKEST_STOPS) for x in light), _flare(view))


def _flare(view: View) -> float:
    points = rim_edge_mm(view.setup)
    margins = outside_picture_deg(view.setup, view.camera, points)
    seen = [
        margin
        for margin, point in zip(margins, points, strict=True)
        # the head can hide only what stands within the picture
        if margin > CLEAR_DEG or not _is_hidden(view, point)
    ]
    return float(min(seen, default=HIDDEN_DEG))


def _is_hidden(view: View, point_mm: Floats) -> bool:
    lens = view.camera.lens_mm
    way = point_mm - lens
    length = float(np.linalg.norm(way))
    hit = first_hit(
        lens,
        way / length,
        view.posed_mm,
        view.anatomy.triangles,
        view.anatomy.drawn_triangles,
        1.0,
    )
    return hit < length


class Shoulders:
    """The plain body's shoulders under a rim light; built when a set-up first asks for them."""

    def __init__(self, head: Head) -> None:
        self._head = head
        self._body: _Body | None = None

    def light(self, view: View) -> tuple[float, float]:
        """Mean light on the own left and the own right shoulder, over what the lens sees of it."""
        if self._body is None:
            self._body = _Body(self._head)
        return self._body.light(view)


class _Body:
    """The body down to the chest; triangles of a shoulder are rows of ``_middles`` and so on."""

    def __init__(self, head: Head) -> None:
        vertices, triangles = build_bust(head)
        self._centre = vertices[:AROUND].mean(axis=0)
        middles = vertices[triangles].mean(axis=1) - self._centre
        casting = triangles[middles[:, 1] > -CHEST_DROP_MM]
        self._vertices = vertices[: int(casting.max()) + 1]
        head_count = len(head.vertices_mm)
        self._triangles = np.concatenate([head.triangles, casting + head_count]).astype(np.int32)
        self._everything = np.arange(len(self._triangles), dtype=np.int32)
        off_mm = np.abs(middles[:, 0])
        receiving = (middles[:, 1] > -SHOULDER_DROP_MM) & (off_mm > SHOULDER_FROM_MM)
        corners = vertices[triangles[receiving]]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        lengths = np.maximum(np.linalg.norm(across, axis=1), 1e-12)
        self._middles = corners.mean(axis=1)
        self._normals, self._areas = across / lengths[:, None], 0.5 * lengths
        self._is_own_left = middles[receiving, 0] > 0.0
        self._shown = np.empty((MAP_PX, MAP_PX), dtype=np.int32)
        self._nearest = np.empty((MAP_PX, MAP_PX))
        self._covered = np.empty(len(self._triangles), dtype=np.int32)

    def light(self, view: View) -> tuple[float, float]:
        """See ``Shoulders``."""
        points = rim_points_mm(view.setup)
        sight = view.camera.lens_mm - self._middles
        # solid angles, so that the mean is over the picture's area
        seen = (sight * self._normals).sum(axis=1) / (sight**2).sum(axis=1) ** 1.5 * self._areas
        seen = np.maximum(seen, 1e-12)
        light = ratio_from_stops(view.setup.rim_stops) * self._shares(view, points[0])
        light *= light_on_surface(points, self._middles, self._normals)
        own_left, own_right = (
            float(light[mine] @ seen[mine] / seen[mine].sum())
            for mine in (self._is_own_left, ~self._is_own_left)
        )
        return own_left, own_right

    def _shares(self, view: View, light_mm: Floats) -> Floats:
        """Share of the light from a place that head and body let through to each triangle."""
        toward = light_mm - self._centre
        toward /= np.linalg.norm(toward)
        aside = np.array([toward[2], 0.0, -toward[0]])
        aside /= np.linalg.norm(aside)
        axes = np.stack([aside, np.cross(toward, aside), toward])
        vertices = np.concatenate([view.posed_mm, self._vertices]) @ axes.T
        x, y, near = np.empty((3, len(vertices)))
        place = axes @ self._centre
        to_map(vertices, place, PIXEL_MM, MAP_PX, MAP_PX, x, y, near)
        rasterise(
            x,
            y,
            near,
            self._triangles,
            self._everything,
            self._shown,
            self._nearest,
            self._covered,
        )
        shares = np.ones(len(self._middles), dtype=np.float32)
        middles, cosines = self._middles @ axes.T - place, self._normals @ toward
        receivers = np.arange(len(shares), dtype=np.int32)
        lower(receivers, middles, cosines, self._nearest, PIXEL_MM, *GAPS_MM, shares)
        return shares.astype(np.float64)


def light_on_surface(points: Floats, middles: Floats, normals: Floats) -> Floats:
    """Light (T,) of a source's points (5, 3) on a surface that nothing shades; 1 at the eyes."""
    ways = points[:, None, :] - middles
    squared = (ways**2).sum(axis=2)
    facing = points[0] / np.linalg.norm(points[0])
    meets = np.maximum((ways * normals).sum(axis=2), 0.0)
    shines = np.maximum(ways @ facing, 0.0)
    return np.asarray(strength_mm2(points) * (meets * shines / squared**2).sum(axis=0))
