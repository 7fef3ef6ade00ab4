"""The key and the fill on a head: how bright each part of it is, shadows included.

Luminance 1 is skin that faces the key squarely at the sitter's eyes, key and fill together. Skin is
matte (Lambert), the fill comes alike from everywhere, the key is a round source of even brightness,
taken as five points, and falls off with the square of the distance.
"""

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from sitwell.base.rotations import direction_from_angles
from sitwell.head.regions import Region
from sitwell.scene.anatomy import Anatomy
from sitwell.scene.light import key_and_fill, source_angle_rad
from sitwell.scene.setup import Setup
from sitwell.scene.shadow import ShadowTable, Surface, surface_of
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Shares = NDArray[np.float32]
Ints = NDArray[np.int32]

HIDDEN_WEIGHT_PER_MM2 = 1e-9  # so that a part out of sight still has a luminance
_ALWAYS = [Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT]  # which side is lit, seen or not
RING = 0.79  # four points here and one in the middle have an even disc's spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit:
    """Light on each region (37,): mean luminance as seen, mean key on the whole region, relief.

    ``weight`` is the visible area behind ``luminance``, ``reached`` the part of it that the key
    reaches; ``relief`` is the contrast that the key's slant gives to a small dent there, up to 1
    for raking light without fill.
    """

    luminance: Floats
    weight: Floats
    key: Floats
    relief: Floats
    reached: Floats


def key_place_mm(setup: Setup) -> Floats:
    """Middle of the key (3,) in the studio."""
    towards = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    return setup.key_distance_mm * towards


def key_points_mm(setup: Setup) -> Floats:
    """Five points (5, 3) that stand for the key's disc, which faces the sitter."""
    middle = key_place_mm(setup)
    azimuth, elevation = math.radians(setup.key_azimuth_deg), math.radians(setup.key_elevation_deg)
    aside = np.array([math.cos(azimuth), 0.0, -math.sin(azimuth)])
    rise = np.array(
        [
            -math.sin(azimuth) * math.sin(elevation),
            math.cos(elevation),
            -math.cos(azimuth) * math.sin(elevation),
        ]
    )
    radius = RING * 0.5 * setup.key_size_mm
    offsets = np.array([np.zeros(3), aside, -aside, rise, -rise])
    return middle + radius * offsets


class Lighting:
    """Lights one head in many set-ups."""

    def __init__(self, anatomy: Anatomy, eye_patch: Floats) -> None:
        """``eye_patch`` (T,): how much each eyeball triangle shows in the opening, looking ahead.

        The eyes are lit as they look ahead, so that a turned gaze doesn't carry the shade along.
        """
        self.surface: Surface = surface_of(anatomy)
        self._table = ShadowTable(anatomy, self.surface)
        self._region = anatomy.region
        self._chosen = anatomy.lit_triangles
        self._eye_patch = eye_patch
        self._weights = np.empty(len(anatomy.triangles))
        self._sums = np.empty((6, len(Region)))

    def light(self, view: View) -> Lit:
        """Light on the regions of a view."""
        setup = view.setup
        points = view.head_from_studio(key_points_mm(setup))
        directions = points / np.linalg.norm(points, axis=1, keepdims=True)
        cells, cell_weights = self._table.cells(directions)
        key_share, fill_share = key_and_fill(setup.fill_ratio)
        np.add(view.visible, self._eye_patch, out=self._weights)
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
            key_share,
            fill_share,
            setup.key_distance_mm**2,
            self._sums,
        )
        luminance, weight, key, area, relief, reached = self._sums
        return Lit(
            luminance=luminance / np.maximum(weight, 1e-300),
            weight=weight.copy(),
            key=key / np.maximum(area, 1e-300),
            relief=relief / np.maximum(reached, 1e-300),
            reached=reached.copy(),
        )


def hardness(setup: Setup) -> float:
    """How hard the key is, 1 for a point: what of a small dent's shade a source of its size leaves.

    One minus the sine of the half angle it fills; the order is common practice, the curve ours.
    """
    return 1.0 - math.sin(source_angle_rad(setup.key_size_mm, setup.key_distance_mm))


@njit(cache=True, nogil=True)
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
    key_share: float,
    fill_share: float,
    reference_squared: float,
    sums: Floats,
) -> None:
    """Rows of ``sums`` by region: luminance, its weight, key, area, relief, its weight.

    Hidden triangles count only in ``needed`` regions: cheeks, and those out of sight altogether.
    """
    sums[:] = 0.0
    count = points.shape[0]
    falloff = reference_squared / count
    for t in chosen:
        if visible[t] == 0.0 and not needed[region[t]]:
            continue
        normal_light, whole_light = 0.0, 0.0
        for s in range(count):
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
            share *= falloff * inverse * inverse
            whole_light += share
            normal_light += share * cosine
        key = key_share * normal_light
        luminance = key + fill_share
        slant = key_share * math.sqrt(max(whole_light**2 - normal_light**2, 0.0))
        r = region[t]
        weight = visible[t] + HIDDEN_WEIGHT_PER_MM2 * areas[t]
        sums[0, r] += weight * luminance
        sums[1, r] += weight
        sums[2, r] += areas[t] * normal_light
        sums[3, r] += areas[t]
        sums[4, r] += weight * whole_light * slant / luminance
        sums[5, r] += weight * whole_light
