"""The eyeballs of a preview: white, iris and pupil on the true sphere, and the key's mirror image.

A row of ``balls`` describes one: centre, gaze, iris and pupil radius, iris colour.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel

Floats = NDArray[np.float64]
Triple = tuple[float, float, float]


@kernel
def on_eyeball(balls: Floats, n: int, place: Triple, white: Triple) -> tuple[Triple, Triple]:
    """Unit normal and colour of ball ``n`` at a place that shows ``white`` off the iris."""
    x, y, z = place
    nx, ny, nz = x - balls[n, 0], y - balls[n, 1], z - balls[n, 2]
    length = math.sqrt(nx * nx + ny * ny + nz * nz)
    nx, ny, nz = nx / length, ny / length, nz / length
    cosine = nx * balls[n, 3] + ny * balls[n, 4] + nz * balls[n, 5]
    red, green, blue = white
    if cosine > 0.0:
        off_mm = length * math.sqrt(max(1.0 - cosine * cosine, 0.0))
        iris = _fade(balls[n, 6] + 0.3, balls[n, 6] - 0.3, off_mm)
        rim = 1.0 - 0.45 * _fade(balls[n, 6] - 1.3, balls[n, 6] - 0.2, off_mm)
        pupil = _fade(balls[n, 7] + 0.25, balls[n, 7] - 0.25, off_mm)
        lit, dark = iris * rim * (1.0 - pupil), iris * 0.008 * pupil
        red = red * (1.0 - iris) + balls[n, 8] * lit + dark
        green = green * (1.0 - iris) + balls[n, 9] * lit + dark
        blue = blue * (1.0 - iris) + balls[n, 10] * lit + dark
    return (nx, ny, nz), (red, green, blue)


@kernel
def catchlight(balls: Floats, n: int, place: Triple, lamps: Floats, lens: Floats) -> float:
    """Light that the first of the ``lamps`` mirrors from ball ``n`` into the lens at a place."""
    x, y, z = place
    # the cornea is a smaller sphere, 7.8 mm, set 5 mm ahead: the light's mirror image on it
    kx, ky, kz = lamps[0, 12] - balls[n, 0], lamps[0, 13] - balls[n, 1], lamps[0, 14] - balls[n, 2]
    lx, ly, lz = lens[0] - balls[n, 0], lens[1] - balls[n, 1], lens[2] - balls[n, 2]
    to_key = math.sqrt(kx * kx + ky * ky + kz * kz)
    to_lens = math.sqrt(lx * lx + ly * ly + lz * lz)
    hx, hy, hz = kx / to_key + lx / to_lens, ky / to_key + ly / to_lens, kz / to_key + lz / to_lens
    half = 7.8 / math.sqrt(hx * hx + hy * hy + hz * hz)
    off_x = x - balls[n, 0] - 5.0 * balls[n, 3] - half * hx
    off_y = y - balls[n, 1] - 5.0 * balls[n, 4] - half * hy
    off_z = z - balls[n, 2] - 5.0 * balls[n, 5] - half * hz
    return 0.9 * _fade(1.25, 0.65, math.sqrt(off_x * off_x + off_y * off_y + off_z * off_z))


@kernel
def _fade(start: float, end: float, value: float) -> float:
    share = min(max((value - start) / (end - start), 0.0), 1.0)
    return share * share * (3.0 - 2.0 * share)
