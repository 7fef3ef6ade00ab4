"""Colours painted on a triangle mesh: each triangle carries a small triangular grid of its own.

No flat map of the surface is needed, so ears and nostrils have no stretches and no seams: grids of
neighbours agree along their common edge (after "mesh colours", Yuksel et al. 2010).
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

MOST_STEPS = 24
HATCH_PERIODS = 110  # lines over the picture's height
HATCH_SHADE = 0.16  # how much darker a line is than what it lies on

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Texels = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """Texels (N, 4): linear colour, and how well it is known, 0 to 1; the rest is hatched.

    Triangle t's grid has ``steps[t]`` intervals along each edge, 0 for none, and begins at
    ``first[t]``: rows of equal third weight, from the edge between its first two corners on.
    """

    first: Ints
    steps: Ints
    texels: Texels


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Where the texels of a paint lie: their triangle (N,) and weights of its corners (N, 3)."""

    first: Ints
    steps: Ints
    triangle: Ints
    weights: NDArray[np.float32]


def lay_out(corners_mm: Floats, texel_mm: Floats) -> Grid:
    """Grids for triangles (T, 3, 3) with texels about ``texel_mm`` (T,) apart, nan for no grid."""
    edges = np.linalg.norm(corners_mm - np.roll(corners_mm, 1, axis=1), axis=2).max(axis=1)
    wanted = np.ceil(np.nan_to_num(edges / texel_mm))
    steps = np.clip(wanted, 0, MOST_STEPS).astype(np.int32)
    sizes = np.where(steps > 0, (steps + 1) * (steps + 2) // 2, 0)
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int32)
    triangle = np.empty(int(sizes.sum()), dtype=np.int32)
    weights = np.empty((len(triangle), 3), dtype=np.float32)
    for size in np.unique(steps[steps > 0]):
        mine = np.flatnonzero(steps == size)
        grid = _weights(int(size))
        at = first[mine][:, None] + np.arange(len(grid))
        triangle[at] = mine[:, None]
        weights[at] = grid
    return Grid(first=first, steps=steps, triangle=triangle, weights=weights)


def _weights(steps: int) -> Floats:
    rows = [
        (1.0 - (i + j) / steps, i / steps, j / steps)
        for j in range(steps + 1)
        for i in range(steps + 1 - j)
    ]
    return np.array(rows)


@njit(cache=True, nogil=True, error_model="numpy")
def painted(
    texels: Texels,
    first: int,
    steps: int,
    second: float,
    third: float,
    pixel: tuple[int, int, int],
) -> tuple[float, float, float]:
    """The colour at a triangle's corner weights ``second, third``.

    Linear between the three texels around; where little is known, darker on the lines of the
    hatch. ``pixel`` is its row and column in a picture and the picture's height.
    """
    x, y = second * steps, third * steps
    i = min(max(int(x), 0), steps - 1)
    j = min(max(int(y), 0), steps - 1 - i)
    a, b = min(max(x - i, 0.0), 1.0), min(max(y - j, 0.0), 1.0)
    here = first + j * (steps + 1) - j * (j - 1) // 2 + i
    above = here + steps + 1 - j
    corner, share = here, 1.0 - a - b
    if share < 0.0 and i + j < steps - 1:
        corner, share, a, b = above + 1, -share, 1.0 - b, 1.0 - a
    elif share < 0.0:
        share, a, b = 0.0, a / (a + b), b / (a + b)
    known = share * texels[corner, 3] + a * texels[here + 1, 3] + b * texels[above, 3]
    dim = 1.0
    if known < 1.0:
        dim -= HATCH_SHADE * hatch_line(pixel[0], pixel[1], pixel[2]) * (1.0 - known)
    red = share * texels[corner, 0] + a * texels[here + 1, 0] + b * texels[above, 0]
    green = share * texels[corner, 1] + a * texels[here + 1, 1] + b * texels[above, 1]
    blue = share * texels[corner, 2] + a * texels[here + 1, 2] + b * texels[above, 2]
    return dim * red, dim * green, dim * blue


@njit(cache=True, nogil=True)
def hatch_line(row: int, column: int, height: int) -> float:
    """How much of a pixel lies on a line of the hatch, 0 to 1."""
    period = max(height / HATCH_PERIODS, 4.0)
    off = abs(((row + column) / 1.4142135623730951) % period - 0.5 * period)
    return min(max(0.22 * period + 0.5 - off, 0.0), 1.0)
