"""Key, fill and rim light on a head: how bright each part of it is, shadows included.

Luminance 1 is skin that faces the key squarely at the sitter's eyes, key and fill together. Skin is
matte (Lambert) and returns no light to other skin, the fill comes alike from everywhere past what
the head's own parts hide, key and rim light are round matte sources of even brightness, taken as
five points, and fall off with the square of the distance. A rim light that is off costs nothing.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.base.rotations import direction_from_angles
from sitwell.base.units import ratio_from_stops
from sitwell.head.regions import EYE, Region
from sitwell.scene.anatomy import Anatomy
from sitwell.scene.light import key_and_fill, source_angle_rad
from sitwell.scene.nose_shadow import NoseShadow
from sitwell.scene.setup import Setup
from sitwell.scene.shadow import ShadowTable, Surface, surface_of
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Shares = NDArray[np.float32]
Ints = NDArray[np.int32]

HIDDEN_WEIGHT_PER_MM2 = 1e-9  # so that a part out of sight still has a luminance
_ALWAYS = [Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT]  # which side is lit, seen or not
UNRIMMED = (Region.SOCKET, Region.NECK)  # the neck is shaded as it stands straight ahead
RING = 0.79  # four points here and one in the middle have an even disc's spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit:
    """Light on each region (37,): mean luminance as seen, mean key on the whole region, relief.

    ``weight`` is the visible area behind ``luminance``, ``reached`` the part of it that the key
    reaches; ``relief`` is the contrast that the key's slant gives to a small dent there, up to 1
    for raking light without fill; a rim light has no part in it. ``nose_shadow`` is the way it
    falls in degrees and its length. ``rim`` is what the rim light alone gives, None when off.
    """

    luminance: Floats
    weight: Floats
    key: Floats
    relief: Floats
    reached: Floats
    nose_shadow: tuple[float, float]
    rim: Floats | None = None


def key_place_mm(setup: Setup) -> Floats:
    """Middle of the key (3,) in the studio."""
    towards = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    return setup.key_distance_mm * towards


def key_points_mm(setup: Setup) -> Floats:
    """Five points (5, 3) that stand for the key's disc, which faces the sitter."""
    return _disc_mm(
        setup.key_azimuth_deg, setup.key_elevation_deg, setup.key_distance_mm, setup.key_size_mm
    )


def rim_points_mm(setup: Setup) -> Floats:
    """Five points (5, 3) that stand for the rim light's disc, on or off, which faces the sitter."""
    return _disc_mm(
        setup.rim_azimuth_deg, setup.rim_elevation_deg, setup.rim_distance_mm, setup.rim_size_mm
    )


def _disc_mm(
    azimuth_deg: float, elevation_deg: float, distance_mm: float, size_mm: float
) -> Floats:
    middle = distance_mm * direction_from_angles(azimuth_deg, elevation_deg)
    azimuth, elevation = math.radians(azimuth_deg), math.radians(elevation_deg)
    aside = np.array([math.cos(azimuth), 0.0, -math.sin(azimuth)])
    rise = np.array(
        [
            -math.sin(azimuth) * math.sin(elevation),
            math.cos(elevation),
            -math.cos(azimuth) * math.sin(elevation),
        ]
    )
    radius = RING * 0.5 * size_mm
    offsets = np.array([np.zeros(3), aside, -aside, rise, -rise])
    return middle + radius * offsets


class Lighting:
    """Lights one head in many set-ups."""

    def __init__(self, anatomy: Anatomy, like: "Lighting | None" = None) -> None:
        """Prepare the head's shadows; those of a head ``like`` it are taken over, to spare time.

        The eyes are lit as they look ahead, so that a turned gaze doesn't carry the shade along:
        what their lids leave free counts, by how squarely the lens sees it.
        """
        self.surface: Surface = surface_of(anatomy)
        self._table: ShadowTable = like._table if like else ShadowTable(anatomy, self.surface)
        self._region = anatomy.region
        self._chosen = anatomy.lit_triangles
        self._nose = NoseShadow(anatomy, self.surface)
        self._openness: Floats = like._openness if like else self._table.openness()
        self._eyes = np.flatnonzero(np.isin(anatomy.region, list(EYE)))
        self._eyes_free_mm2 = (self._table.exposed * self.surface.areas_mm2)[self._eyes]
        self._weights = np.empty(len(anatomy.triangles))
        self._sums = np.empty((6, len(Region)))
        self._rimmed = np.flatnonzero(~np.isin(anatomy.region, list(UNRIMMED))).astype(np.int32)
        self._rim_sums = np.empty((2, len(Region)))

    def light(self, view: View) -> Lit:
        """Light on the regions of a view."""
        setup = view.setup
        places = key_points_mm(setup)
        points = view.head_from_studio(places)
        strength, facing = strength_mm2(places), view.rotation.T @ _unit(places[0])
        directions = points / np.linalg.norm(points, axis=1, keepdims=True)
        cells, cell_weights = self._table.cells(directions)
        key_share, fill_share = key_and_fill(setup.fill_ratio)
        lens = _unit(view.head_from_studio(view.camera.lens_mm))
        squarely = np.maximum(self.surface.normals[self._eyes] @ lens, 0.0)
        face_mm2 = view.face_area / view.frame.unit_per_mm**2
        self._weights[:] = view.visible
        self._weights[self._eyes] = self._eyes_free_mm2 * squarely / face_mm2
        needed = np.array(view.region_area) == 0.0
        needed[_ALWAYS] = True
        _sum_light(
            self._chosen,
            self._region,
            self.surface.middles_mm,
            self.surface.normals,
            self.surface.areas_mm2,
            self._weights,
            needed,
            points,
            cells,
            cell_weights,
            self._table.shares,
            self._openness,
            facing,
            strength,
            key_share,
            fill_share,
            self._sums,
        )
        luminance, weight, key, area, relief, reached = self._sums
        rim = self._rim(view, needed) if setup.rim == "on" else None
        if rim is not None:
            luminance += weight * rim
        spread = RING * 0.5 * setup.key_size_mm / setup.key_distance_mm
        tip = view.head_from_studio(view.point_mm("nose_tip"))
        return Lit(
            luminance=luminance / np.maximum(weight, 1e-300),
            weight=weight.copy(),
            key=key / np.maximum(area, 1e-300),
            relief=relief / np.maximum(reached, 1e-300),
            reached=reached.copy(),
            nose_shadow=self._nose.fall(points[0], tip, spread),
            rim=rim,
        )

    def _rim(self, view: View, needed: NDArray[np.bool_]) -> Floats:
        """Light (37,) of the rim light on the regions as seen; weights are those of the key's."""
        places = rim_points_mm(view.setup)
        points = view.head_from_studio(places)
        directions = points / np.linalg.norm(points, axis=1, keepdims=True)
        cells, cell_weights = self._table.cells(directions)
        _sum_rim(
            self._rimmed,
            self._region,
            self.surface.middles_mm,
            self.surface.normals,
            self.surface.areas_mm2,
            self._weights,
            needed,
            points,
            cells,
            cell_weights,
            self._table.shares,
            view.rotation.T @ _unit(places[0]),
            ratio_from_stops(view.setup.rim_stops) * strength_mm2(places),
            self._rim_sums,
        )
        light, weight = self._rim_sums
        return np.asarray(light / np.maximum(weight, 1e-300))


def strength_mm2(points: Floats) -> float:
    """Each point's strength, so that skin square to the key at the eyes gets one in all."""
    squared = (points**2).sum(axis=1)
    cosines_squared = (points @ _unit(points[0])) ** 2 / squared  # at the source and at the skin
    return 1.0 / float((cosines_squared / squared).sum())


def _unit(vector: Floats) -> Floats:
    return vector / math.sqrt(float(vector @ vector))


def hardness(setup: Setup) -> float:
    """How hard the key is, 1 for a point: what of a small dent's shade a source of its size leaves.

    One minus the sine of the half angle it fills; the order is common practice, the curve ours.
    """
    return 1.0 - math.sin(source_angle_rad(setup.key_size_mm, setup.key_distance_mm))


@kernel
def _arriving(
    t: int,
    middles: Floats,
    normals: Floats,
    points: Floats,
    cells: Ints,
    cell_weights: Floats,
    shares: Shares,
    facing: Floats,
    strength: float,
) -> tuple[float, float]:
    """A source's light at a triangle, all of it and what its slant leaves; past what hides it."""
    whole_light, normal_light = 0.0, 0.0
    for s in range(points.shape[0]):
        x = points[s, 0] - middles[t, 0]
        y = points[s, 1] - middles[t, 1]
        z = points[s, 2] - middles[t, 2]
        cosine = x * normals[t, 0] + y * normals[t, 1] + z * normals[t, 2]
        if cosine <= 0.0:
            continue
        inverse = 1.0 / math.sqrt(x * x + y * y + z * z)
        cosine *= inverse
        share = 0.0
        for c in range(4):
            share += cell_weights[s, c] * shares[cells[s, c], t]
        # a point is seen or hidden, and blending ten degrees smears that: half as much this way
        share *= share * (3.0 - 2.0 * share)
        # the source is matte too: it shines less aside
        aside = (x * facing[0] + y * facing[1] + z * facing[2]) * inverse
        share *= strength * max(aside, 0.0) * inverse * inverse
        whole_light += share
        normal_light += share * cosine
    return whole_light, normal_light


@kernel
def _sum_light(
    chosen: Ints,
    region: NDArray[np.uint8],
    middles: Floats,
    normals: Floats,
    areas: Floats,
    visible: Floats,
    needed: NDArray[np.bool_],
    points: Floats,
    cells: Ints,
    cell_weights: Floats,
    shares: Shares,
    openness: Floats,
    facing: Floats,
    strength: float,
    key_share: float,
    fill_share: float,
    sums: Floats,
) -> None:
    """Rows of ``sums`` by region: luminance, its weight, key, area, relief, its weight.

    Hidden triangles count only in ``needed`` regions: cheeks, and those out of sight altogether.
    """
    sums[:] = 0.0
    for t in chosen:
        if visible[t] == 0.0 and not needed[region[t]]:
            continue
        whole_light, normal_light = _arriving(
            t, middles, normals, points, cells, cell_weights, shares, facing, strength
        )
        key = key_share * normal_light
        luminance = max(key + fill_share * openness[t], 1e-9)
        slant = key_share * math.sqrt(max(whole_light**2 - normal_light**2, 0.0))
        r = region[t]
        weight = visible[t] + HIDDEN_WEIGHT_PER_MM2 * areas[t]
        sums[0, r] += weight * luminance
        sums[1, r] += weight
        sums[2, r] += areas[t] * normal_light
        sums[3, r] += areas[t]
        sums[4, r] += weight * whole_light * slant / luminance
        sums[5, r] += weight * whole_light


@kernel
def _sum_rim(
    chosen: Ints,
    region: NDArray[np.uint8],
    middles: Floats,
    normals: Floats,
    areas: Floats,
    visible: Floats,
    needed: NDArray[np.bool_],
    points: Floats,
    cells: Ints,
    cell_weights: Floats,
    shares: Shares,
    facing: Floats,
    strength: float,
    sums: Floats,
) -> None:
    """Rows of ``sums`` by region: light and its weight, counted as in ``_sum_light``."""
    sums[:] = 0.0
    for t in chosen:
        r = region[t]
        if visible[t] == 0.0 and not needed[r]:
            continue
        _, light = _arriving(
            t, middles, normals, points, cells, cell_weights, shares, facing, strength
        )
        weight = visible[t] + HIDDEN_WEIGHT_PER_MM2 * areas[t]
        sums[0, r] += weight * light
        sums[1, r] += weight
