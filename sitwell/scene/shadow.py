"""What the head's own parts hide from a light, by its direction in the head frame.

One small shadow map per direction of a ten-degree grid, made when first asked for and kept: a
search asks for the same few again and again. Between directions the shares are blended, and an
area source is five directions, so shadows move smoothly. The neck is taken as in the neutral pose.
"""

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from sitwell.base.rotations import direction_from_angles
from sitwell.scene.anatomy import Anatomy
from sitwell.scene.raster import rasterise

Floats = NDArray[np.float64]
Shares = NDArray[np.float32]
Ints = NDArray[np.int32]

STEP_DEG = 10.0
AZIMUTHS, ELEVATIONS = 36, 19
PIXEL_MM = 2.0
MAP_WIDTH_PX, MAP_HEIGHT_PX = 144, 176
DEPTH_OFFSET_MM = 1000.0  # keeps the rasteriser's nearness above zero
LEAST_GAP_MM, MOST_GAP_MM = 2.0, 8.0  # a caster nearer than this is the surface itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """The head's triangles as a light meets them: head frame, normals unit length, mm and mm2."""

    middles_mm: Floats
    normals: Floats
    areas_mm2: Floats


def surface_of(anatomy: Anatomy) -> Surface:
    """Middles, normals and areas (T,) of a head's triangles."""
    corners = anatomy.vertices_mm[anatomy.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.maximum(np.linalg.norm(across, axis=1), 1e-12)
    return Surface(
        middles_mm=corners.mean(axis=1), normals=across / length[:, None], areas_mm2=0.5 * length
    )


class ShadowTable:
    """For each triangle, the share of light from a direction that reaches it, on a grid."""

    def __init__(self, anatomy: Anatomy, surface: Surface) -> None:
        self._anatomy, self._surface = anatomy, surface
        count = len(anatomy.triangles)
        self.shares = np.empty((AZIMUTHS * ELEVATIONS, count), dtype=np.float32)
        self._ready = np.zeros(AZIMUTHS * ELEVATIONS, dtype=bool)
        self._shown = np.empty((MAP_HEIGHT_PX, MAP_WIDTH_PX), dtype=np.int32)
        self._nearest = np.empty((MAP_HEIGHT_PX, MAP_WIDTH_PX))
        self._covered = np.empty(count, dtype=np.int32)

    def cells(self, directions: Floats) -> tuple[Ints, Floats]:
        """Grid cells (N, 4) around directions (N, 3) and their weights; makes missing cells."""
        cells = np.empty((len(directions), 4), dtype=np.int32)
        weights = np.empty((len(directions), 4))
        around(directions, cells, weights)
        for cell in cells[~self._ready[cells]]:
            if not self._ready[cell]:
                self._make(int(cell))
        return cells, weights

    def _make(self, cell: int) -> None:
        row, column = divmod(cell, AZIMUTHS)
        azimuth = math.radians(column * STEP_DEG)
        elevation = math.radians(row * STEP_DEG - 90.0)
        right = np.array([math.cos(azimuth), 0.0, -math.sin(azimuth)])
        toward = np.array(
            [
                math.sin(azimuth) * math.cos(elevation),
                math.sin(elevation),
                math.cos(azimuth) * math.cos(elevation),
            ]
        )
        axes = np.stack([right, np.cross(toward, right), toward])
        seen = (self._anatomy.vertices_mm - self._anatomy.middle_mm) @ axes.T
        middles = (self._surface.middles_mm - self._anatomy.middle_mm) @ axes.T
        for places in (seen, middles):
            places[:, 0] = places[:, 0] / PIXEL_MM + 0.5 * MAP_WIDTH_PX
            places[:, 1] = 0.5 * MAP_HEIGHT_PX - places[:, 1] / PIXEL_MM
            places[:, 2] += DEPTH_OFFSET_MM
        x, y, near = np.ascontiguousarray(seen.T)
        rasterise(
            x,
            y,
            near,
            self._anatomy.triangles,
            self._anatomy.drawn_triangles,
            self._shown,
            self._nearest,
            self._covered,
        )
        _lit_shares(middles, self._surface.normals @ toward, self._nearest, self.shares[cell])
        self._ready[cell] = True


def fill_openness(anatomy: Anatomy) -> Floats:
    """Share (T,) of light from all round that reaches each triangle past the head's other parts."""
    surface = surface_of(anatomy)
    table = ShadowTable(anatomy, surface)
    directions = np.array(
        [
            direction_from_angles(azimuth, elevation)
            for elevation in (-60.0, -20.0, 20.0, 60.0)
            for azimuth in range(0, 360, 40 if abs(elevation) < 40 else 80)
        ]
    )
    cells, weights = table.cells(directions)
    nearest = cells[np.arange(len(cells)), weights.argmax(axis=1)]
    facing = np.maximum(surface.normals @ directions.T, 0.0)
    return (facing * table.shares[nearest].T).sum(axis=1) / np.maximum(facing.sum(axis=1), 1e-9)


@njit(cache=True, nogil=True)
def around(directions: Floats, cells: Ints, weights: Floats) -> None:
    """The four grid cells around each unit direction, and bilinear weights."""
    for n in range(directions.shape[0]):
        azimuth = math.degrees(math.atan2(directions[n, 0], directions[n, 2])) % 360.0
        elevation = math.degrees(math.asin(min(max(directions[n, 1], -1.0), 1.0)))
        across, up = azimuth / STEP_DEG, (elevation + 90.0) / STEP_DEG
        column, row = int(across), min(int(up), ELEVATIONS - 2)
        a, b = across - column, up - row
        after = (column + 1) % AZIMUTHS
        column = column % AZIMUTHS
        cells[n, 0], weights[n, 0] = row * AZIMUTHS + column, (1.0 - a) * (1.0 - b)
        cells[n, 1], weights[n, 1] = row * AZIMUTHS + after, a * (1.0 - b)
        cells[n, 2], weights[n, 2] = (row + 1) * AZIMUTHS + column, (1.0 - a) * b
        cells[n, 3], weights[n, 3] = (row + 1) * AZIMUTHS + after, a * b


@njit(cache=True, nogil=True)
def _lit_shares(middles: Floats, cosines: Floats, nearest: Floats, shares: Shares) -> None:
    # nine samples of the map around each middle, each passing softly over the allowed gap, which
    # grows with the slope of the surface against the light
    height, width = nearest.shape
    for t in range(middles.shape[0]):
        column, row = math.floor(middles[t, 0]), math.floor(middles[t, 1])
        cosine = max(abs(cosines[t]), 0.1)
        slope = math.sqrt(1.0 - cosine * cosine) / cosine
        gap = min(LEAST_GAP_MM + PIXEL_MM * slope, MOST_GAP_MM)
        total, count = 0.0, 0
        for y in range(max(row - 1, 0), min(row + 2, height)):
            for x in range(max(column - 1, 0), min(column + 2, width)):
                over = nearest[y, x] - middles[t, 2] - gap
                total += 1.0 - min(max(over / LEAST_GAP_MM, 0.0), 1.0)
                count += 1
        shares[t] = total / count if count > 0 else 1.0


@njit(cache=True, nogil=True)
def first_hit(
    start: Floats, direction: Floats, vertices: Floats, triangles: Ints, chosen: Ints, least: float
) -> float:
    """Distance along a ray to the first of the chosen triangles beyond ``least``, inf if none.

    Möller and Trumbore 1997, both faces.
    """
    nearest = math.inf
    for t in chosen:
        i, j, k = triangles[t]
        e1x, e1y, e1z = (
            vertices[j, 0] - vertices[i, 0],
            vertices[j, 1] - vertices[i, 1],
            vertices[j, 2] - vertices[i, 2],
        )
        e2x, e2y, e2z = (
            vertices[k, 0] - vertices[i, 0],
            vertices[k, 1] - vertices[i, 1],
            vertices[k, 2] - vertices[i, 2],
        )
        px = direction[1] * e2z - direction[2] * e2y
        py = direction[2] * e2x - direction[0] * e2z
        pz = direction[0] * e2y - direction[1] * e2x
        det = e1x * px + e1y * py + e1z * pz
        if abs(det) < 1e-12:
            continue
        sx, sy, sz = (
            start[0] - vertices[i, 0],
            start[1] - vertices[i, 1],
            start[2] - vertices[i, 2],
        )
        a = (sx * px + sy * py + sz * pz) / det
        if a < 0.0 or a > 1.0:
            continue
        qx, qy, qz = sy * e1z - sz * e1y, sz * e1x - sx * e1z, sx * e1y - sy * e1x
        b = (direction[0] * qx + direction[1] * qy + direction[2] * qz) / det
        if b < 0.0 or a + b > 1.0:
            continue
        distance = (e2x * qx + e2y * qy + e2z * qz) / det
        if least < distance < nearest:
            nearest = distance
    return nearest
