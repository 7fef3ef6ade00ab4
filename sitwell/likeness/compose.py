"""The picture's inner loop: each pixel from the plates that saw it, over sheet and background.

A pixel within the surface has one sample, one on an edge four, as in ``preview_shade``.
"""

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.likeness.hatch import HATCH_SHADE, hatch_line

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int32]
Pixels = NDArray[np.uint8]

EDGE_STEP = 0.0035  # of the depth: a larger step within a pixel is an edge
# Where they begin in a vertex's row: place on the raster with 1/depth; place in the first plate,
# what its colours are multiplied with; the same of the second; a colour of its own; how much of
# the vertex is solid, how far it ends with the person's own outline, and how much was seen.
RASTER, FIRST, FIRST_BY, SECOND, SECOND_BY, OWN, SOLID, ENDS, KNOWN = 0, 3, 5, 8, 10, 13, 16, 17, 18
ROW = 19


@kernel
def compose(
    shown: Ints,
    nearest: Floats,
    triangles: Ints,
    rows: Floats,
    first: Pixels,
    first_alpha: Pixels,
    second: Pixels,
    linear: Floats,
    sheet: Pixels,
    sheet_alpha: Pixels,
    sheet_known: Pixels,
    sheet_light: Singles,
    sheet_near: float,
    background: Floats,
    ground: Singles,
    hatched: bool,
    coded: Pixels,
    picture: Pixels,
    nearness: Singles,
    cover: Singles,
) -> float:
    """Fill ``picture`` (H, W, 3), ``nearness`` and ``cover`` (H, W), which is the person's share.

    Gives how many pixels of the person are made up. ``background`` (3,) is light, ``ground``
    (H, W) how it falls off.

    ``shown`` and ``nearest`` (2H, 2W) are the surface's raster. ``linear`` (256,) is light by byte.
    """
    height, width, _ = picture.shape
    top = coded.shape[0] - 1
    made_up = 0.0
    values = np.empty(ROW)
    for y in range(height):
        for x in range(width):
            alpha = sheet_alpha[y, x] / 255.0
            light = sheet_light[y, x]
            known = float(sheet_known[y, x])
            dim = light
            if hatched and known < 1.0:
                dim *= 1.0 - HATCH_SHADE * hatch_line(y, x, height)
            wall = (1.0 - alpha) * ground[y, x]
            under_r = alpha * dim * linear[sheet[y, x, 0]] + wall * background[0]
            under_g = alpha * dim * linear[sheet[y, x, 1]] + wall * background[1]
            under_b = alpha * dim * linear[sheet[y, x, 2]] + wall * background[2]
            edge = _is_edge(shown, nearest, 2 * y, 2 * x)
            samples = 4 if edge else 1
            red = green = blue = covers = unseen = near = 0.0
            for s in range(samples):
                row, column = 2 * y + s // 2, 2 * x + s % 2
                t = shown[row, column]
                if t < 0:
                    red, green, blue = red + under_r, green + under_g, blue + under_b
                    covers += alpha
                    unseen += alpha * (1.0 - known)
                    continue
                middle = 0.5 if edge else 1.0  # of its cell, or of the whole pixel
                _blend(triangles, rows, t, column + middle, row + middle, values)
                a = _at(first_alpha, values[FIRST], values[FIRST + 1]) / 255.0
                solid = values[SOLID] * (1.0 - values[ENDS] * (1.0 - a))
                r, g, b = _colour(values, first, second, linear)
                if hatched:
                    lines = HATCH_SHADE * hatch_line(y, x, height)
                    shade = 1.0 - lines * (1.0 - values[KNOWN])
                    r, g, b = r * shade, g * shade, b * shade
                red += solid * r + (1.0 - solid) * under_r
                green += solid * g + (1.0 - solid) * under_g
                blue += solid * b + (1.0 - solid) * under_b
                covers += solid + (1.0 - solid) * alpha
                unseen += solid * (1.0 - values[KNOWN]) + (1.0 - solid) * alpha * (1.0 - known)
                near = max(near, nearest[row, column])
            made_up += unseen / samples
            nearness[y, x] = sheet_near if near == 0.0 and alpha > 0.5 else near
            cover[y, x] = covers / samples
            picture[y, x, 0] = coded[int(min(max(red / samples, 0.0), 1.0) * top + 0.5)]
            picture[y, x, 1] = coded[int(min(max(green / samples, 0.0), 1.0) * top + 0.5)]
            picture[y, x, 2] = coded[int(min(max(blue / samples, 0.0), 1.0) * top + 0.5)]
    return made_up


@kernel
def _is_edge(shown: Ints, nearest: Floats, y: int, x: int) -> bool:
    first, near = shown[y, x], nearest[y, x]
    for s in range(1, 4):
        if (shown[y + s // 2, x + s % 2] < 0) != (first < 0):
            return True
        if abs(nearest[y + s // 2, x + s % 2] - near) > EDGE_STEP * near:
            return True
    return False


@kernel
def _blend(triangles: Ints, rows: Floats, t: int, x: float, y: float, values: Floats) -> None:
    """A triangle's row at a place on the raster, perspective true."""
    i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
    left, top = rows[i, 0], rows[i, 1]
    jx, jy = rows[j, 0] - left, rows[j, 1] - top
    kx, ky = rows[k, 0] - left, rows[k, 1] - top
    px, py = x - left, y - top
    b, c = px * ky - kx * py, jx * py - px * jy
    a = (jx * ky - kx * jy - b - c) * rows[i, 2]
    b, c = b * rows[j, 2], c * rows[k, 2]
    total = a + b + c
    a, b, c = a / total, b / total, c / total
    for n in range(FIRST, ROW):
        values[n] = a * rows[i, n] + b * rows[j, n] + c * rows[k, n]


@kernel
def _colour(
    values: Floats, first: Pixels, second: Pixels, linear: Floats
) -> tuple[float, float, float]:
    """Light of the surface where its row is ``values``."""
    r, g, b = values[OWN], values[OWN + 1], values[OWN + 2]
    if values[FIRST_BY] + values[FIRST_BY + 1] > 1e-4:
        one, two, three = _light(first, values[FIRST], values[FIRST + 1], linear)
        r += one * values[FIRST_BY]
        g += two * values[FIRST_BY + 1]
        b += three * values[FIRST_BY + 2]
    if values[SECOND_BY] + values[SECOND_BY + 1] > 1e-4:
        one, two, three = _light(second, values[SECOND], values[SECOND + 1], linear)
        r += one * values[SECOND_BY]
        g += two * values[SECOND_BY + 1]
        b += three * values[SECOND_BY + 2]
    return r, g, b


@kernel
def _light(plate: Pixels, x: float, y: float, linear: Floats) -> tuple[float, float, float]:
    """Linear light of a plate at a place, straight between its pixels' middles."""
    height, width, _ = plate.shape
    x, y = min(max(x - 0.5, 0.0), width - 1.001), min(max(y - 0.5, 0.0), height - 1.001)
    c, r = int(x), int(y)
    a, b = x - c, y - r
    w0, w1, w2, w3 = (1.0 - a) * (1.0 - b), a * (1.0 - b), (1.0 - a) * b, a * b
    red = (
        w0 * linear[plate[r, c, 0]] + w1 * linear[plate[r, c + 1, 0]]
        + w2 * linear[plate[r + 1, c, 0]] + w3 * linear[plate[r + 1, c + 1, 0]]
    )  # fmt: skip
    green = (
        w0 * linear[plate[r, c, 1]] + w1 * linear[plate[r, c + 1, 1]]
        + w2 * linear[plate[r + 1, c, 1]] + w3 * linear[plate[r + 1, c + 1, 1]]
    )  # fmt: skip
    blue = (
        w0 * linear[plate[r, c, 2]] + w1 * linear[plate[r, c + 1, 2]]
        + w2 * linear[plate[r + 1, c, 2]] + w3 * linear[plate[r + 1, c + 1, 2]]
    )  # fmt: skip
    return red, green, blue


@kernel
def _at(values: Pixels, x: float, y: float) -> float:
    height, width = values.shape
    x, y = min(max(x - 0.5, 0.0), width - 1.001), min(max(y - 0.5, 0.0), height - 1.001)
    c, r = int(x), int(y)
    a, b = x - c, y - r
    upper = (1.0 - a) * values[r, c] + a * values[r, c + 1]
    lower = (1.0 - a) * values[r + 1, c] + a * values[r + 1, c + 1]
    return (1.0 - b) * upper + b * lower
