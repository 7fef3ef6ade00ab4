"""Light from many small points with a shadow map each: what a soft light leaves of every place.

A large light is a disc of points, each with its own small map of how near the head comes to it, so
that shadows are soft where the light is large. For pictures: the measures count by ``lighting``.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.base.rotations import camera_axes
from sitwell.scene.raster import rasterise

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

MAP_PX = 240
MAP_PIXEL_MM = 1.6
DEPTH_OFFSET_MM = 2000.0
NORMAL_OFFSET_MM = 1.5
GAP_MM = 1.5
STRENGTH = 15  # where a lamp's row holds it


def light_disc(middle_mm: Floats, radius_mm: float, count: int) -> Floats:
    """Points (N, 3) spread evenly over a disc that faces the sitter (Vogel's sunflower)."""
    axes = camera_axes(middle_mm, [0.0, 0.0, 0.0])
    steps = np.arange(count)
    radii = radius_mm * np.sqrt((steps + 0.5) / count)
    angles = steps * math.pi * (3.0 - math.sqrt(5.0))
    across, up = radii * np.cos(angles), radii * np.sin(angles)
    return middle_mm + across[:, None] * axes[0] + up[:, None] * axes[1]


def draw_maps(
    vertices: Floats, triangles: Ints, middle: Floats, points: Floats, strengths: Floats
) -> tuple[Floats, Floats]:
    """Lamps (N, 16) and their maps (N, H, W) of depths, for ``light_at``.

    A lamp at ``points`` (N, 3) gives ``strengths`` (N,) over its squared distance. Its row holds
    the way from studio mm to map column, row and depth, three times four numbers, then the point
    and the strength.
    """
    ways = np.stack([_map_way(point, middle) for point in points])
    maps = np.empty((len(points), MAP_PX, MAP_PX))
    shown = np.empty((MAP_PX, MAP_PX), dtype=np.int32)
    covered = np.empty(len(triangles), dtype=np.int32)
    chosen = np.arange(len(triangles), dtype=np.int32)
    seen = ways[:, :, :3] @ np.ascontiguousarray(vertices.T) + ways[:, :, 3:]
    for n, (x, y, near) in enumerate(seen):
        rasterise(x, y, near, triangles, chosen, shown, maps[n], covered)
    lamps = np.column_stack([ways.reshape(len(points), 12), points, strengths])
    return np.ascontiguousarray(lamps), maps


def _map_way(point: Floats, middle: Floats) -> Floats:
    toward = (point - middle) / np.linalg.norm(point - middle)
    aside = np.cross([0.0, 1.0, 0.0] if abs(toward[1]) < 0.99 else [0.0, 0.0, 1.0], toward)
    aside /= np.linalg.norm(aside)
    rows = np.stack([aside / MAP_PIXEL_MM, -np.cross(toward, aside) / MAP_PIXEL_MM, toward])
    shift = np.array([0.5 * MAP_PX, 0.5 * MAP_PX, DEPTH_OFFSET_MM]) - rows @ middle
    return np.concatenate([rows, shift[:, None]], axis=1)


@kernel
def light_at(
    place: tuple[float, float, float],
    normal: tuple[float, float, float],
    lamps: Floats,
    maps: Floats,
) -> float:
    """Light of all lamps on a place with a unit normal, shadows included.

    Each map is asked in the four cells around the place, blended.
    """
    x, y, z = place
    nx, ny, nz = normal
    from_x, from_y = x + NORMAL_OFFSET_MM * nx, y + NORMAL_OFFSET_MM * ny
    from_z = z + NORMAL_OFFSET_MM * nz
    light = 0.0
    for n in range(lamps.shape[0]):
        dx, dy, dz = lamps[n, 12] - x, lamps[n, 13] - y, lamps[n, 14] - z
        facing = dx * nx + dy * ny + dz * nz
        if facing <= 0.0:
            continue
        column = lamps[n, 0] * from_x + lamps[n, 1] * from_y + lamps[n, 2] * from_z
        row = lamps[n, 4] * from_x + lamps[n, 5] * from_y + lamps[n, 6] * from_z
        column, row = column + lamps[n, 3] - 0.5, row + lamps[n, 7] - 0.5
        share = 1.0
        if 0.0 <= column < MAP_PX - 1.0 and 0.0 <= row < MAP_PX - 1.0:
            depth = lamps[n, 8] * from_x + lamps[n, 9] * from_y + lamps[n, 10] * from_z
            share = _share(n, column, row, depth + lamps[n, 11] + GAP_MM, maps)
        squared = dx * dx + dy * dy + dz * dz
        light += lamps[n, STRENGTH] * facing * share / (squared * math.sqrt(squared))
    return light


@kernel
def lights_at(places: Floats, normals: Floats, lamps: Floats, maps: Floats) -> Floats:
    """``light_at`` (N,) of places (N, 3) with unit normals (N, 3)."""
    light = np.empty(places.shape[0])
    for i in range(places.shape[0]):
        place = (places[i, 0], places[i, 1], places[i, 2])
        light[i] = light_at(place, (normals[i, 0], normals[i, 1], normals[i, 2]), lamps, maps)
    return light


@kernel
def _share(n: int, column: float, row: float, depth: float, maps: Floats) -> float:
    c, r = int(column), int(row)
    a, b = column - c, row - r
    share = 0.0
    if depth >= maps[n, r, c]:
        share += (1.0 - a) * (1.0 - b)
    if depth >= maps[n, r, c + 1]:
        share += a * (1.0 - b)
    if depth >= maps[n, r + 1, c]:
        share += (1.0 - a) * b
    if depth >= maps[n, r + 1, c + 1]:
        share += a * b
    return share
