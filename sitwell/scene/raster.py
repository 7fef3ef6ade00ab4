"""The rasteriser: which triangle each pixel of a small picture shows, by a z-buffer.

A pixel belongs to a triangle when its centre lies inside it; where several do, the nearest wins.
Triangles that turn their back (clockwise in the picture) are left out. Depth is interpolated as
1/depth, which is linear in the picture, so perspective is exact. No fast-math: the result is the
same on every run.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel

NOTHING = -1
SMALL_GAP = 0.002  # of the depth: 4 mm at 2 m
Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@kernel
def rasterise(
    x_px: Floats,
    y_px: Floats,
    nearness: Floats,
    triangles: Ints,
    chosen: Ints,
    shown: Ints,
    nearest: Floats,
    covered: Ints,
) -> None:
    """Draw the ``chosen`` triangles into ``shown`` and ``nearest`` (H, W), both overwritten.

    ``x_px, y_px, nearness`` (V,) hold each vertex's place (y down) and 1/depth. ``shown`` gets the
    triangle's index or NOTHING, ``nearest`` its nearness; ``covered`` (T,) gets, for each chosen
    triangle, how many pixel centres lie inside it, -1 when it turns its back.
    """
    height, width = shown.shape
    shown[:] = NOTHING
    nearest[:] = 0.0
    for n in range(chosen.shape[0]):
        t = chosen[n]
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        xi, yi, xj, yj, xk, yk = x_px[i], y_px[i], x_px[j], y_px[j], x_px[k], y_px[k]
        # y runs down, so a front face, counter-clockwise to the eye, turns clockwise here
        double_area = (xk - xi) * (yj - yi) - (xj - xi) * (yk - yi)
        if double_area <= 0.0:
            covered[t] = -1
            continue
        top, bottom = min(yi, yj, yk), max(yi, yj, yk)
        first_row, past_row = max(math.ceil(top - 0.5), 0), min(math.ceil(bottom - 0.5), height)
        if first_row >= past_row:
            covered[t] = 0
            continue
        near_i = nearness[i]
        to_j, to_k = (nearness[j] - near_i) / double_area, (nearness[k] - near_i) / double_area
        near_x = to_j * (yi - yk) + to_k * (yj - yi)
        near_y = to_j * (xk - xi) + to_k * (xi - xj)
        near_0 = near_i + (0.5 - xi) * near_x + (0.5 - yi) * near_y
        # corners from the top down: the long edge runs from the first to the last
        if yi > yj:
            xi, yi, xj, yj = xj, yj, xi, yi
        if yj > yk:
            xj, yj, xk, yk = xk, yk, xj, yj
        if yi > yj:
            xi, yi, xj, yj = xj, yj, xi, yi
        long = (xk - xi) / (yk - yi)
        upper = (xj - xi) / (yj - yi) if yj > yi else 0.0
        lower = (xk - xj) / (yk - yj) if yk > yj else 0.0
        count = 0
        for row in range(first_row, past_row):
            y = row + 0.5
            start = xi + (y - yi) * long
            end = xi + (y - yi) * upper if y < yj else xj + (y - yj) * lower
            if start > end:
                start, end = end, start
            first, past = max(math.ceil(start - 0.5), 0), min(math.ceil(end - 0.5), width)
            near = near_0 + row * near_y + first * near_x
            for column in range(first, past):
                if near > nearest[row, column]:
                    nearest[row, column] = near
                    shown[row, column] = t
                near += near_x
            count += max(past - first, 0)
        covered[t] = count


@kernel
def count_shown(shown: Ints, seen: Ints) -> None:
    """Number of pixels of ``shown`` that each triangle owns, into ``seen`` (T,), overwritten."""
    seen[:] = 0
    height, width = shown.shape
    for row in range(height):
        for column in range(width):
            t = shown[row, column]
            if t >= 0:
                seen[t] += 1


@kernel
def sum_by_region(region: NDArray[np.uint8], areas: Floats, sums: Floats) -> None:
    """Sum of ``areas`` (T,) by region, into ``sums``, overwritten."""
    sums[:] = 0.0
    for t in range(region.shape[0]):
        sums[region[t]] += areas[t]


@kernel
def recount_regions(
    region: NDArray[np.uint8], shown: Ints, wanted: Ints, pixel_area: float, sums: Floats
) -> None:
    """Replace the wanted regions' sums by their pixels in a canvas times a pixel's area."""
    height, width = shown.shape
    counts = np.zeros(sums.shape[0], dtype=np.int64)
    for row in range(height):
        for column in range(width):
            t = shown[row, column]
            if t >= 0:
                counts[region[t]] += 1
    for w in wanted:
        sums[w] = counts[w] * pixel_area


@kernel
def visible_areas(
    triangles: Ints,
    u: Floats,
    v: Floats,
    x_px: Floats,
    y_px: Floats,
    nearness: Floats,
    nearest: Floats,
    covered: Ints,
    seen: Ints,
    areas: Floats,
) -> None:
    """Visible area of each triangle in the unit of ``u, v``, into ``areas`` (T,), overwritten.

    Its exact projected area times the share of its pixels that show it, so that only triangles on
    an occluding edge carry the pixels' grain. One too small to own a pixel centre counts whole or
    not at all, by the depth where its middle lies.
    """
    height, width = nearest.shape
    for t in range(triangles.shape[0]):
        areas[t] = 0.0
        if covered[t] < 0:
            continue
        i, j, k = triangles[t]
        area = 0.5 * ((u[j] - u[i]) * (v[k] - v[i]) - (u[k] - u[i]) * (v[j] - v[i]))
        if covered[t] > 0:
            areas[t] = area * seen[t] / covered[t]
            continue
        column = math.floor((x_px[i] + x_px[j] + x_px[k]) / 3.0)
        row = math.floor((y_px[i] + y_px[j] + y_px[k]) / 3.0)
        if 0 <= row < height and 0 <= column < width:
            near = (nearness[i] + nearness[j] + nearness[k]) / 3.0
            if near >= nearest[row, column] * (1.0 - SMALL_GAP):
                areas[t] = area


@kernel
def face_axes(
    x: Floats,
    y: Floats,
    origin_x: float,
    origin_y: float,
    up_x: float,
    up_y: float,
    unit: float,
    u: Floats,
    v: Floats,
) -> None:
    """Picture places ``x, y`` as ``u, v`` along axes given by their origin, up and unit."""
    for i in range(x.shape[0]):
        a, b = (x[i] - origin_x) / unit, (y[i] - origin_y) / unit
        u[i] = a * up_y - b * up_x
        v[i] = a * up_x + b * up_y


@kernel
def to_pixels(
    u: Floats, v: Floats, left: float, top: float, scale: float, x_px: Floats, y_px: Floats
) -> None:
    """Pixel places (y down) of ``u, v`` for a canvas whose corner is ``left, top``."""
    for i in range(u.shape[0]):
        x_px[i] = (u[i] - left) * scale
        y_px[i] = (top - v[i]) * scale


@kernel
def extremes(u: Floats, v: Floats, chosen: Ints) -> tuple[float, float, float, float]:
    """Smallest and largest u, then v, of the chosen vertices."""
    left, right, low, high = math.inf, -math.inf, math.inf, -math.inf
    for i in chosen:
        left, right = min(left, u[i]), max(right, u[i])
        low, high = min(low, v[i]), max(high, v[i])
    return left, right, low, high


@kernel
def blend_points(vertices: Floats, corners: Ints, weights: Floats, points: Floats) -> None:
    """Places (P, 3) inside triangles with ``corners`` (P, 3) at barycentric ``weights`` (P, 3)."""
    for p in range(corners.shape[0]):
        for axis in range(3):
            points[p, axis] = (
                weights[p, 0] * vertices[corners[p, 0], axis]
                + weights[p, 1] * vertices[corners[p, 1], axis]
                + weights[p, 2] * vertices[corners[p, 2], axis]
            )


@kernel
def facing_area(triangles: Ints, u: Floats, v: Floats, chosen: Ints) -> float:
    """Projected area of those chosen triangles that face the camera, hidden or not."""
    total = 0.0
    for t in chosen:
        i, j, k = triangles[t]
        area = 0.5 * ((u[j] - u[i]) * (v[k] - v[i]) - (u[k] - u[i]) * (v[j] - v[i]))
        total += max(area, 0.0)
    return total


@kernel
def highest(u: Floats, v: Floats, chosen: Ints, up_x: float, up_y: float) -> float:
    """Greatest height of the chosen vertices along the picture's vertical."""
    most = -math.inf
    for i in chosen:
        most = max(most, v[i] * up_y - u[i] * up_x)
    return most
