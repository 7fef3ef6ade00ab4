"""Outlines in the picture, from the mesh's edges, free of the raster's grain."""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
ROWS = 64


@kernel
def outline_rows(
    u: Floats, v: Floats, edges: Ints, low: float, high: float, left: Floats, right: Floats
) -> None:
    """Smallest and largest u at which an edge crosses each of the level rows from low to high.

    Fills ``left`` and ``right`` (ROWS,); inf and -inf where no edge crosses.
    """
    rows = left.shape[0]
    left[:] = math.inf
    right[:] = -math.inf
    step = (high - low) / (rows - 1)
    for e in range(edges.shape[0]):
        a, b = edges[e, 0], edges[e, 1]
        if v[a] > v[b]:
            a, b = b, a
        first = max(math.ceil((v[a] - low) / step), 0)
        last = min(math.floor((v[b] - low) / step), rows - 1)
        for row in range(first, last + 1):
            rise = v[b] - v[a]
            share = (low + row * step - v[a]) / rise if rise > 0.0 else 0.0
            place = u[a] + share * (u[b] - u[a])
            left[row] = min(left[row], place)
            right[row] = max(right[row], place)


@kernel
def extent_at(u: Floats, v: Floats, edges: Ints, level: float) -> tuple[float, float]:
    """Smallest and largest u at which an edge crosses ``v = level``; inf, -inf if none does."""
    least, most = math.inf, -math.inf
    for e in range(edges.shape[0]):
        a, b = edges[e, 0], edges[e, 1]
        below, above = v[a] - level, v[b] - level
        if below * above > 0.0 or below == above:
            continue
        place = u[a] + below / (below - above) * (u[b] - u[a])
        least, most = min(least, place), max(most, place)
    return least, most


@kernel
def at_level(rows: Floats, low: float, high: float, level: float) -> float:
    """A row's value between rows, straight; the end rows hold beyond them."""
    place = (level - low) / (high - low) * (rows.shape[0] - 1)
    place = min(max(place, 0.0), rows.shape[0] - 1.0)
    under = min(int(place), rows.shape[0] - 2)
    share = place - under
    return rows[under] * (1.0 - share) + rows[under + 1] * share


@kernel
def stands_out(
    u: Floats, v: Floats, chosen: Ints, side: float, rows: Floats, low: float, high: float
) -> float:
    """How far the chosen vertices reach past an outline on one side (+1 right, -1 left), >= 0."""
    most = 0.0
    for i in chosen:
        past = side * (u[i] - at_level(rows, low, high, v[i]))
        if past > most:
            most = past
    return most


@kernel
def slice_extent(u: Floats, first: Ints, second: Ints, share: Floats) -> tuple[float, float]:
    """Smallest and largest u along a slice of the mesh."""
    least, most = math.inf, -math.inf
    for n in range(first.shape[0]):
        place = u[first[n]] + share[n] * (u[second[n]] - u[first[n]])
        least, most = min(least, place), max(most, place)
    return least, most


@kernel
def depth_step_under(
    shown: Ints,
    nearest: Floats,
    region: NDArray[np.uint8],
    upper: NDArray[np.bool_],
    lower: NDArray[np.bool_],
    full_step_mm: float,
) -> float:
    """Mean depth step, 0 to 1, where a region of ``upper`` ends above one of ``lower``.

    Looks down each pixel column; a step of ``full_step_mm`` or more counts 1. 0 if they never meet.
    """
    height, width = shown.shape
    total, count = 0.0, 0
    for column in range(width):
        for row in range(height - 1):
            over, under = shown[row, column], shown[row + 1, column]
            if over < 0 or under < 0 or not upper[region[over]] or not lower[region[under]]:
                continue
            step_mm = 1.0 / nearest[row + 1, column] - 1.0 / nearest[row, column]
            total += min(max(step_mm / full_step_mm, 0.0), 1.0)
            count += 1
    return total / count if count > 0 else 0.0
