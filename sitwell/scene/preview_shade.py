"""The preview's inner loop: light, shadow and colour of each pixel, edges smoothed by four samples.

Light is counted as in ``lighting``; here each light is a disc of many points, each with its own
small shadow map, and the fill is dimmed where the head's own parts stand in its way. A pixel within
a surface has one sample, and its light is taken from every other pixel where those around agree:
the shadow maps are no finer.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.scene.key_maps import light_at
from sitwell.scene.preview_eye import catchlight, on_eyeball
from sitwell.scene.raster import rasterise

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Pixels = NDArray[np.uint8]
Near = NDArray[np.float32]
Triple = tuple[float, float, float]

BAND_PX = 160  # even, since light is shared between two rows
EDGE_STEP = 0.0012  # of the depth: a larger step within a pixel is an edge
ALIKE = 0.08  # of the light: pixels that differ by more are not averaged
PLACE, NORMAL, COLOUR, OPEN, ON_RASTER = 0, 3, 6, 9, 10  # where they begin in a vertex's traits
TRAITS = 13
BALL, FACETS = 3, 4  # what a facet holds behind its three corners


class Scene(NamedTuple):
    """What is drawn, on a raster (2H, 2W) twice as large as the picture each way.

    ``traits`` (V, 13) are each vertex's place, normal, colour, openness to the fill, and place on
    the raster with 1/depth. ``triangles`` (T, 3) are drawn; ``facets`` (T, 4) are each one's
    corners again and its row of ``balls`` (see ``preview_eye``) or -1. ``lamps`` and ``maps`` are
    those of ``draw_maps``, the key's middle first; ``coded`` is a table from linear light to bytes.
    """

    triangles: Ints
    facets: Ints
    traits: Floats
    balls: Floats
    lamps: Floats
    maps: Floats
    lens: Floats
    fill_share: float
    background: Floats
    coded: Pixels


def shade(scene: Scene, picture: Pixels, nearness: Near, alike: float = ALIKE) -> None:
    """Fill ``picture`` (H, W, 3) and ``nearness`` (H, W), 1/depth or 0 where nothing is.

    With ``alike`` below 0 each pixel's light is its own.

    It is drawn in bands from the top down, so that the raster stays small and in the cache.
    """
    height, width, _ = picture.shape
    x, y, near = np.ascontiguousarray(scene.traits[:, ON_RASTER:].T)
    shown = np.empty((2 * min(BAND_PX, height), 2 * width), dtype=np.int32)
    nearest = np.empty(shown.shape)
    every = np.arange(len(scene.triangles), dtype=np.int32)
    covered = np.empty_like(every)
    for first in range(0, height, BAND_PX):
        band = picture[first : first + BAND_PX]
        raster = shown[: 2 * len(band)], nearest[: 2 * len(band)]
        rasterise(x, y - 2.0 * first, near, scene.triangles, every, *raster, covered)
        lights = np.full((len(band) // 2 + 2, (width + 1) // 2), math.nan)
        _shade(*raster, *scene[1:], alike, lights, first, band)
        nearness[first : first + BAND_PX] = raster[1][::2, ::2]


# the arrays go one by one: a tuple of them would have its references counted at every pixel
@kernel
def _shade(
    shown: Ints,
    nearest: Floats,
    facets: Ints,
    traits: Floats,
    balls: Floats,
    lamps: Floats,
    maps: Floats,
    lens: Floats,
    fill_share: float,
    background: Floats,
    coded: Pixels,
    alike: float,
    lights: Floats,
    first: int,
    picture: Pixels,
) -> None:
    height, width, _ = picture.shape
    _light_row(shown, nearest, facets, traits, lamps, maps, lights, 0, first)
    for row in range(height):
        if row % 2 == 0:
            _light_row(shown, nearest, facets, traits, lamps, maps, lights, row // 2 + 1, first)
        for column in range(width):
            edge = _is_edge(shown, nearest, facets, 2 * row, 2 * column)
            known = math.nan if edge else _around(lights, row, column, alike)
            samples = 4 if edge else 1
            red = green = blue = 0.0
            for s in range(samples):
                y, x = 2 * row + s // 2, 2 * column + s % 2
                t = shown[y, x]
                if t < 0:
                    r, g, b = background[0], background[1], background[2]
                else:
                    i, j, k = _weights(facets, traits, t, x, y + 2 * first)
                    r, g, b = _blend(facets, traits, t, i, j, k, COLOUR)
                    light, shine, ball = known, 0.0, facets[t, BALL]
                    if ball >= 0:
                        place = _blend(facets, traits, t, i, j, k, PLACE)
                        normal, (r, g, b) = on_eyeball(balls, ball, place, (r, g, b))
                        light = light_at(place, normal, lamps, maps)
                        shine = catchlight(balls, ball, place, lamps, lens)
                    elif math.isnan(light):
                        light = _light(facets, traits, lamps, maps, t, i, j, k)
                    light += fill_share * _trait(facets, traits, t, i, j, k, OPEN)
                    r, g, b = r * light + shine, g * light + shine, b * light + shine
                red, green, blue = red + r, green + g, blue + b
            _put(coded, (red / samples, green / samples, blue / samples), picture, row, column)


@kernel
def _put(coded: Pixels, light: Triple, picture: Pixels, row: int, column: int) -> None:
    top = coded.shape[0] - 1
    picture[row, column, 0] = coded[int(min(max(light[0], 0.0), 1.0) * top + 0.5)]
    picture[row, column, 1] = coded[int(min(max(light[1], 0.0), 1.0) * top + 0.5)]
    picture[row, column, 2] = coded[int(min(max(light[2], 0.0), 1.0) * top + 0.5)]


@kernel
def _light_row(
    shown: Ints,
    nearest: Floats,
    facets: Ints,
    traits: Floats,
    lamps: Floats,
    maps: Floats,
    lights: Floats,
    row: int,
    first: int,
) -> None:
    """Light without fill of every second pixel of a second row, where it is a plain surface."""
    y = 4 * row
    if y >= shown.shape[0]:
        return
    for column in range(lights.shape[1]):
        x = 4 * column
        t = shown[y, x]
        if t >= 0 and not _is_edge(shown, nearest, facets, y, x):
            i, j, k = _weights(facets, traits, t, x, y + 2 * first)
            lights[row, column] = _light(facets, traits, lamps, maps, t, i, j, k)


@kernel
def _around(lights: Floats, row: int, column: int, alike: float) -> float:
    """Light at a pixel from those around it; nan where they are none or unlike."""
    r, c = row // 2, column // 2
    below, beside = r + row % 2, c + column % 2
    if below >= lights.shape[0] or beside >= lights.shape[1]:
        return math.nan
    one, two, three, four = lights[r, c], lights[r, beside], lights[below, c], lights[below, beside]
    most, least = max(one, two, three, four), min(one, two, three, four)
    return 0.25 * (one + two + three + four) if most - least <= alike * most else math.nan


@kernel
def _is_edge(shown: Ints, nearest: Floats, facets: Ints, y: int, x: int) -> bool:
    """Whether the four samples from (y, x) on show an eye, or more than one surface."""
    first, near = shown[y, x], nearest[y, x]
    for s in range(4):
        t = shown[y + s // 2, x + s % 2]
        if (t < 0) != (first < 0):
            return True
        if t >= 0:
            step = abs(nearest[y + s // 2, x + s % 2] - near)
            if step > EDGE_STEP * near or facets[t, BALL] >= 0:
                return True
    return False


@kernel
def _light(
    facets: Ints,
    traits: Floats,
    lamps: Floats,
    maps: Floats,
    t: int,
    i: float,
    j: float,
    k: float,
) -> float:
    """Light without fill where a triangle's corners count so much."""
    nx, ny, nz = _blend(facets, traits, t, i, j, k, NORMAL)
    length = math.sqrt(max(nx * nx + ny * ny + nz * nz, 1e-12))
    place = _blend(facets, traits, t, i, j, k, PLACE)
    return light_at(place, (nx / length, ny / length, nz / length), lamps, maps)


@kernel
def _weights(facets: Ints, traits: Floats, t: int, x: int, y: int) -> Triple:
    """What a triangle's corners count at the middle of a cell of the raster, perspective true."""
    i, j, k = facets[t, 0], facets[t, 1], facets[t, 2]
    left, top = traits[i, ON_RASTER], traits[i, ON_RASTER + 1]
    jx, jy = traits[j, ON_RASTER] - left, traits[j, ON_RASTER + 1] - top
    kx, ky = traits[k, ON_RASTER] - left, traits[k, ON_RASTER + 1] - top
    px, py = x + 0.5 - left, y + 0.5 - top
    b, c = px * ky - kx * py, jx * py - px * jy
    a = (jx * ky - kx * jy - b - c) * traits[i, ON_RASTER + 2]
    b, c = b * traits[j, ON_RASTER + 2], c * traits[k, ON_RASTER + 2]
    total = a + b + c
    return a / total, b / total, c / total


@kernel
def _blend(
    facets: Ints, traits: Floats, t: int, i: float, j: float, k: float, first: int
) -> Triple:
    """Three traits of a triangle's corners, blended."""
    return (
        _trait(facets, traits, t, i, j, k, first),
        _trait(facets, traits, t, i, j, k, first + 1),
        _trait(facets, traits, t, i, j, k, first + 2),
    )


@kernel
def _trait(facets: Ints, traits: Floats, t: int, i: float, j: float, k: float, which: int) -> float:
    a, b, c = facets[t, 0], facets[t, 1], facets[t, 2]
    return float(i * traits[a, which] + j * traits[b, which] + k * traits[c, which])
