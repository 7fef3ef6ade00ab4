"""The preview's inner loop: light, shadow and colour of each pixel, edges smoothed by four samples.

Light is counted as in ``lighting``; here the key is a disc of many points, each with its own small
shadow map, and the fill is dimmed where the head's own parts stand in its way.
"""

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes
from sitwell.scene.paint import Texels, hatch_line, paint_over
from sitwell.scene.raster import rasterise

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

KEY_POINTS = 16
MAP_PX = 240
MAP_PIXEL_MM = 1.6
DEPTH_OFFSET_MM = 2000.0
NORMAL_OFFSET_MM = 1.5
GAP_MM = 1.5


def key_disc(middle_mm: Floats, radius_mm: float) -> Floats:
    """Points spread evenly over a disc that faces the sitter (Vogel's sunflower)."""
    axes = camera_axes(middle_mm, [0.0, 0.0, 0.0])
    steps = np.arange(KEY_POINTS)
    radii = radius_mm * np.sqrt((steps + 0.5) / KEY_POINTS)
    angles = steps * math.pi * (3.0 - math.sqrt(5.0))
    across, up = radii * np.cos(angles), radii * np.sin(angles)
    return middle_mm + across[:, None] * axes[0] + up[:, None] * axes[1]


def shadow_maps(
    vertices: Floats, triangles: Ints, middle: Floats, key_points: Floats
) -> tuple[Floats, Floats]:
    """One map a key point: (N, 3, 4) from studio mm to map pixels and depth, (N, H, W) depths."""
    ways = np.empty((len(key_points), 3, 4))
    maps = np.empty((len(key_points), MAP_PX, MAP_PX))
    shown = np.empty((MAP_PX, MAP_PX), dtype=np.int32)
    covered = np.empty(len(triangles), dtype=np.int32)
    chosen = np.arange(len(triangles), dtype=np.int32)
    for n, point in enumerate(key_points):
        ways[n] = _map_way(point, middle)
        x, y, near = np.ascontiguousarray((vertices @ ways[n, :, :3].T + ways[n, :, 3]).T)
        rasterise(x, y, near, triangles, chosen, shown, maps[n], covered)
    return ways, maps


def _map_way(point: Floats, middle: Floats) -> Floats:
    toward = (point - middle) / np.linalg.norm(point - middle)
    aside = np.cross([0.0, 1.0, 0.0] if abs(toward[1]) < 0.99 else [0.0, 0.0, 1.0], toward)
    aside /= np.linalg.norm(aside)
    rows = np.stack([aside / MAP_PIXEL_MM, -np.cross(toward, aside) / MAP_PIXEL_MM, toward])
    shift = np.array([0.5 * MAP_PX, 0.5 * MAP_PX, DEPTH_OFFSET_MM]) - rows @ middle
    return np.concatenate([rows, shift[:, None]], axis=1)


@njit(cache=True, nogil=True)
def lit_share(place: Floats, normal: Floats, way: Floats, depths: Floats) -> float:
    """Share of one key point's light that reaches a place: four samples of its map, blended."""
    x = place[0] + NORMAL_OFFSET_MM * normal[0]
    y = place[1] + NORMAL_OFFSET_MM * normal[1]
    z = place[2] + NORMAL_OFFSET_MM * normal[2]
    column = way[0, 0] * x + way[0, 1] * y + way[0, 2] * z + way[0, 3] - 0.5
    row = way[1, 0] * x + way[1, 1] * y + way[1, 2] * z + way[1, 3] - 0.5
    depth = way[2, 0] * x + way[2, 1] * y + way[2, 2] * z + way[2, 3] + GAP_MM
    c, r = math.floor(column), math.floor(row)
    if c < 0 or r < 0 or c >= MAP_PX - 1 or r >= MAP_PX - 1:
        return 1.0
    a, b = column - c, row - r
    share = 0.0
    if depth >= depths[r, c]:
        share += (1.0 - a) * (1.0 - b)
    if depth >= depths[r, c + 1]:
        share += a * (1.0 - b)
    if depth >= depths[r + 1, c]:
        share += (1.0 - a) * b
    if depth >= depths[r + 1, c + 1]:
        share += a * b
    return share


@njit(cache=True, nogil=True)
def key_light(
    place: Floats, normal: Floats, points: Floats, ways: Floats, maps: Floats, reference_mm: float
) -> float:
    """Light of the key's points on a place, shadows included; 1 squarely at ``reference_mm``."""
    light = 0.0
    for n in range(points.shape[0]):
        dx = points[n, 0] - place[0]
        dy = points[n, 1] - place[1]
        dz = points[n, 2] - place[2]
        squared = dx * dx + dy * dy + dz * dz
        cosine = (dx * normal[0] + dy * normal[1] + dz * normal[2]) / math.sqrt(squared)
        if cosine > 0.0:
            share = lit_share(place, normal, ways[n], maps[n])
            light += cosine * share * reference_mm**2 / squared
    return light / points.shape[0]


@njit(cache=True, nogil=True)
def shade(
    shown: Ints,
    nearest: Floats,
    x_px: Floats,
    y_px: Floats,
    nearness: Floats,
    triangles: Ints,
    places: Floats,
    normals: Floats,
    openness: Floats,
    colours: Floats,
    paint_first: Ints,
    paint_steps: Ints,
    texels: Texels,
    ball_of_triangle: Ints,
    balls: Floats,
    key_points: Floats,
    ways: Floats,
    maps: Floats,
    lens: Floats,
    key_share: float,
    fill_share: float,
    reference_mm: float,
    background: Floats,
    picture: Floats,
) -> None:
    """Fill ``picture`` (H, W, 3), linear light, from a raster twice as large each way.

    Vertices carry ``places``, ``normals``, ``openness`` (to the fill) and ``colours``; a triangle
    with ``paint_steps`` takes its colours from the texels instead (see ``Paint``). Triangles of an
    eyeball name a row of ``balls``: centre, gaze, iris and pupil radius, iris colour.
    """
    height, width, _ = picture.shape
    place, normal, colour, sample = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    for row in range(height):
        for column in range(width):
            samples = 4 if _is_edge(shown, nearest, ball_of_triangle, row, column) else 1
            picture[row, column] = 0.0
            for s in range(samples):
                sub_row, sub_column = 2 * row + s // 2, 2 * column + s % 2
                t = shown[sub_row, sub_column]
                if t < 0:
                    picture[row, column] += background / samples
                    continue
                _interpolate(
                    t,
                    sub_column + 0.5,
                    sub_row + 0.5,
                    x_px,
                    y_px,
                    nearness,
                    triangles,
                    places,
                    normals,
                    colours,
                    place,
                    normal,
                    colour,
                    openness,
                    sample,
                )
                open_to_fill = sample[0]
                if paint_steps[t] > 0:
                    line = hatch_line(row, column, height)
                    paint_over(
                        texels, paint_first[t], paint_steps[t], sample[1], sample[2], line, colour
                    )
                shine = 0.0
                ball = ball_of_triangle[t]
                if ball >= 0:
                    shine = _eyeball(balls[ball], place, normal, colour, key_points, lens)
                key = key_share * key_light(place, normal, key_points, ways, maps, reference_mm)
                light = key + fill_share * open_to_fill
                for c in range(3):
                    picture[row, column, c] += (colour[c] * light + shine) / samples


@njit(cache=True, nogil=True)
def _is_edge(shown: Ints, nearest: Floats, ball_of_triangle: Ints, row: int, column: int) -> bool:
    first = shown[2 * row, 2 * column]
    near = nearest[2 * row, 2 * column]
    if first >= 0 and ball_of_triangle[first] >= 0:
        return True
    for s in range(1, 4):
        t = shown[2 * row + s // 2, 2 * column + s % 2]
        if (t < 0) != (first < 0):
            return True
        if t >= 0:
            if ball_of_triangle[t] >= 0:
                return True
            if abs(nearest[2 * row + s // 2, 2 * column + s % 2] - near) > 0.0012 * near:
                return True
    return False


@njit(cache=True, nogil=True)
def _interpolate(
    t: int,
    x: float,
    y: float,
    x_px: Floats,
    y_px: Floats,
    nearness: Floats,
    triangles: Ints,
    places: Floats,
    normals: Floats,
    colours: Floats,
    place: Floats,
    normal: Floats,
    colour: Floats,
    openness: Floats,
    sample: Floats,
) -> None:
    i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
    area = (x_px[j] - x_px[i]) * (y_px[k] - y_px[i]) - (x_px[k] - x_px[i]) * (y_px[j] - y_px[i])
    wj = ((x - x_px[i]) * (y_px[k] - y_px[i]) - (x_px[k] - x_px[i]) * (y - y_px[i])) / area
    wk = ((x_px[j] - x_px[i]) * (y - y_px[i]) - (x - x_px[i]) * (y_px[j] - y_px[i])) / area
    a, b, c = (1.0 - wj - wk) * nearness[i], wj * nearness[j], wk * nearness[k]
    total = a + b + c
    a, b, c = a / total, b / total, c / total
    length = 0.0
    for axis in range(3):
        place[axis] = a * places[i, axis] + b * places[j, axis] + c * places[k, axis]
        normal[axis] = a * normals[i, axis] + b * normals[j, axis] + c * normals[k, axis]
        colour[axis] = a * colours[i, axis] + b * colours[j, axis] + c * colours[k, axis]
        length += normal[axis] ** 2
    length = math.sqrt(max(length, 1e-12))
    for axis in range(3):
        normal[axis] /= length
    sample[0] = a * openness[i] + b * openness[j] + c * openness[k]
    sample[1], sample[2] = b, c


@njit(cache=True, nogil=True)
def _eyeball(
    ball: Floats,
    place: Floats,
    normal: Floats,
    colour: Floats,
    key_points: Floats,
    lens: Floats,
) -> float:
    """Colour of white, iris or pupil, the true sphere's normal, and the key's reflection."""
    length = 0.0
    for axis in range(3):
        normal[axis] = place[axis] - ball[axis]
        length += normal[axis] ** 2
    length = math.sqrt(length)
    cosine = 0.0
    for axis in range(3):
        normal[axis] /= length
        cosine += normal[axis] * ball[3 + axis]
    off_mm = length * math.sqrt(max(1.0 - cosine * cosine, 0.0))
    if cosine > 0.0:
        iris = _fade(ball[6] + 0.3, ball[6] - 0.3, off_mm)
        rim = 1.0 - 0.45 * _fade(ball[6] - 1.3, ball[6] - 0.2, off_mm)
        pupil = _fade(ball[7] + 0.25, ball[7] - 0.25, off_mm)
        for axis in range(3):
            inner = ball[8 + axis] * rim * (1.0 - pupil) + 0.008 * pupil
            colour[axis] = colour[axis] * (1.0 - iris) + inner * iris
    return _catchlight(ball, place, key_points, lens)


@njit(cache=True, nogil=True)
def _catchlight(ball: Floats, place: Floats, key_points: Floats, lens: Floats) -> float:
    # the cornea is a smaller sphere, 7.8 mm, set 5 mm ahead: the light's mirror image on it
    squared_k, squared_l = 0.0, 0.0
    for axis in range(3):
        squared_k += (key_points[0, axis] - ball[axis]) ** 2
        squared_l += (lens[axis] - ball[axis]) ** 2
    half = np.empty(3)
    length = 0.0
    for axis in range(3):
        half[axis] = (key_points[0, axis] - ball[axis]) / math.sqrt(squared_k) + (
            lens[axis] - ball[axis]
        ) / math.sqrt(squared_l)
        length += half[axis] ** 2
    off = 0.0
    for axis in range(3):
        spot = ball[axis] + 5.0 * ball[3 + axis] + 7.8 * half[axis] / math.sqrt(length)
        off += (place[axis] - spot) ** 2
    return 0.9 * _fade(1.25, 0.65, math.sqrt(off))


@njit(cache=True, nogil=True)
def _fade(start: float, end: float, value: float) -> float:
    share = min(max((value - start) / (end - start), 0.0), 1.0)
    return share * share * (3.0 - 2.0 * share)
