"""Skin as a net should not mind it: noses bent and knobbed, pores, freckles, shine, make-up."""

import math
from functools import cache

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from builders.pictures.canvas import SKIN, SURFACE, Canvas
from sitwell.face.parts import Part

Floats = NDArray[np.float32]
_CELLS = 32  # of the noise that textures are made of; a power of two
# The mean head's nose runs from this height to that, in mm.
_ROOT_MM, _TIP_MM, _END_MM = 2.0, -36.0, -60.0


def bent_nose(vertices: Floats, rng: np.random.Generator) -> Floats:
    """The head's vertices (V, 3) with the nose bent aside, bowed, hooked and thickened at random.

    Beyond what the sliders do: a net that only knows straight noses would draw one over any.
    """
    x, y, z = vertices.astype(np.float64).T
    down = np.clip((_ROOT_MM - y) / (_ROOT_MM - _TIP_MM), 0.0, 1.3)
    wide = rng.uniform(12, 20)
    own = np.exp(-((x / wide) ** 4)) * np.clip((y - _END_MM) / 12.0, 0, 1) * np.clip(z / 12, 0, 1)
    strength = rng.choice([0.3, 1.0, 1.6], p=[0.3, 0.5, 0.2])
    lean, bow, wave = rng.normal(0, (2.6, 1.2, 0.7)) * strength
    hump, step, thick = rng.normal(0, (1.0, 0.6, 0.05)) * strength
    bulge = np.sin(np.pi * np.minimum(down, 1.0))
    moved = vertices.astype(np.float64)
    moved[:, 0] += own * (lean * down + bow * bulge + wave * np.sin(2 * np.pi * down))
    moved[:, 0] += own * thick * x
    moved[:, 2] += own * (hump * bulge + step * np.sin(2 * np.pi * np.minimum(down, 1.0)))
    return moved.astype(np.float32)


def roughened(
    canvas: Canvas, rays: Floats, rotation: Floats, place: Floats, rng: np.random.Generator
) -> None:
    """Give a canvas's skin pores, spots, patches of shine and uneven colour, pixel by pixel."""
    spotted = rng.random() < 0.25
    brown = rng.random() < 0.7
    made_up = rng.random() < 0.15
    tone = np.array([0.75, 0.6, 0.5] if brown else [1.0, 0.6, 0.6]) ** rng.uniform(0.3, 1.2)
    sizes = (rng.uniform(0.5, 1.1), rng.uniform(1.5, 4.0), rng.uniform(6, 18), rng.uniform(0.9, 3))
    look = np.array([
        rng.uniform(0, 0.1), rng.uniform(0, 0.12), rng.uniform(0, 0.16),  # unevenness by size
        rng.uniform(0.9, 2.0) if spotted else 99.0, *tone,
        rng.uniform(0, 0.6), rng.uniform(-1.0, 1.6),  # shine in patches, and on the nose
        np.exp(rng.uniform(np.log(0.01), np.log(0.15))),  # pores
        rng.normal(0, 2.5), *(rng.uniform(0, 0.35, 2) if made_up else (0.0, 0.0)),
    ], np.float32)  # fmt: skip
    _rough_pixels(
        canvas.near, canvas.kind, canvas.colour, canvas.normal, canvas.gloss, rays,
        rotation.astype(np.float32), place.astype(np.float32), np.array(sizes, np.float32),
        rng.uniform(0, _CELLS, (4, 3)).astype(np.float32), look, _lattice(),
    )  # fmt: skip


def woven(
    canvas: Canvas, rays: Floats, rotation: Floats, place: Floats, rng: np.random.Generator
) -> None:
    """Give cloth a weave, knit or crease, and hair that is only painted some grain."""
    look = np.zeros((16, 3), np.float32)  # by part: size in mm, of colour, of the surface
    for part in (Part.HAT, Part.CLOTHES, Part.MASK, Part.HAIR, Part.HAND, Part.BEARD):
        size = np.exp(rng.uniform(np.log(0.8), np.log(9.0)))
        look[part] = size, rng.choice([0.03, 0.2, 0.5]) * rng.random(), rng.uniform(0, 0.7)
    look[Part.HAIR] = look[Part.BEARD] = rng.uniform(0.7, 2.5), rng.uniform(0.1, 0.7), 0.5
    _woven_pixels(
        canvas.near, canvas.kind, canvas.label, canvas.colour, canvas.normal, rays,
        rotation.astype(np.float32), place.astype(np.float32), look,
        rng.uniform(0, _CELLS, 3).astype(np.float32), _lattice(),
    )  # fmt: skip


@njit(cache=True, nogil=True, fastmath=True)
def _woven_pixels(
    near: Floats, kind: NDArray[np.uint8], label: NDArray[np.uint8], colour: Floats,
    normal: Floats, rays: Floats, rotation: Floats, place: Floats, look: Floats, shift: Floats,
    lattice: Floats,
) -> None:  # fmt: skip
    height, width = near.shape
    for row in range(height):
        for column in range(width):
            size = look[label[row, column], 0]
            if kind[row, column] != SURFACE or near[row, column] <= 0.0 or size == 0.0:
                continue
            depth = 1.0 / near[row, column]
            a = rays[row, column, 0] * depth - place[0]
            b = rays[row, column, 1] * depth - place[1]
            c = -depth - place[2]
            x = a * rotation[0, 0] + b * rotation[1, 0] + c * rotation[2, 0]
            y = a * rotation[0, 1] + b * rotation[1, 1] + c * rotation[2, 1]
            z = a * rotation[0, 2] + b * rotation[1, 2] + c * rotation[2, 2]
            one = _noise(x, y, z, size, shift, lattice)
            two = _noise(y, z, x, size * 0.6, shift, lattice)
            amount, bump = look[label[row, column], 1], look[label[row, column], 2]
            for channel in range(3):
                colour[row, column, channel] *= min(max(1.0 + amount * one, 0.15), 2.2)
            p = normal[row, column, 0] + 0.5 * bump * one
            q = normal[row, column, 1] + 0.5 * bump * two
            r = normal[row, column, 2]
            length = math.sqrt(p * p + q * q + r * r) + 1e-6
            normal[row, column, 0], normal[row, column, 1] = p / length, q / length
            normal[row, column, 2] = r / length


@njit(cache=True, nogil=True, fastmath=True)
def _noise(x: float, y: float, z: float, size: float, shift: Floats, lattice: Floats) -> float:
    """A value, about one in size, that changes over ``size`` millimetres."""
    last = lattice.shape[0] - 1
    u, v, w = x / size + shift[0], y / size + shift[1], z / size + shift[2]
    i, j, k = math.floor(u), math.floor(v), math.floor(w)
    u, v, w = u - i, v - j, w - k
    total = 0.0
    for a in range(2):
        for b in range(2):
            for c in range(2):
                share = (u if a else 1 - u) * (v if b else 1 - v) * (w if c else 1 - w)
                total += share * lattice[(i + a) & last, (j + b) & last, (k + c) & last]
    return 1.6 * total


@njit(cache=True, nogil=True, fastmath=True)
def _rough_pixels(
    near: Floats, kind: NDArray[np.uint8], colour: Floats, normal: Floats, gloss: Floats,
    rays: Floats, rotation: Floats, place: Floats, sizes: Floats, shifts: Floats, look: Floats,
    lattice: Floats,
) -> None:  # fmt: skip
    """Roughen every pixel of skin; ``look`` holds the strengths that ``roughened`` drew."""
    height, width = near.shape
    for row in range(height):
        for column in range(width):
            if kind[row, column] != SKIN or near[row, column] <= 0.0:
                continue
            depth = 1.0 / near[row, column]
            a = rays[row, column, 0] * depth - place[0]
            b = rays[row, column, 1] * depth - place[1]
            c = -depth - place[2]
            x = a * rotation[0, 0] + b * rotation[1, 0] + c * rotation[2, 0]
            y = a * rotation[0, 1] + b * rotation[1, 1] + c * rotation[2, 1]
            z = a * rotation[0, 2] + b * rotation[1, 2] + c * rotation[2, 2]
            fine = _noise(x, y, z, sizes[0], shifts[0], lattice)
            middle = _noise(x, y, z, sizes[1], shifts[1], lattice)
            broad = _noise(x, y, z, sizes[2], shifts[2], lattice)
            even = fine * look[0] + middle * look[1] + broad * look[2]
            spot = look[3] < 90.0 and _noise(x, y, z, sizes[3], shifts[3], lattice) > look[3]
            away = abs(x - look[10])
            reach = min(max((y + 50) / 20, 0.0), 1.0) * min(max((8 - y) / 10, 0.0), 1.0)
            paint = 1.0 - look[11] * reach * math.exp(-(((away - 10) / 4) ** 2))
            paint += look[12] * reach * math.exp(-((away / 3) ** 2))
            for channel in range(3):
                made = 1.0 + even * (0.65 if channel == 0 else 1.0)
                made *= look[4 + channel] if spot else 1.0
                colour[row, column, channel] *= min(max(made * paint, 0.2), 2.0)
            nose = math.exp(-((x / 14) ** 2) - ((y + 30) / 22) ** 2)
            gloss[row, column] *= math.exp(broad * look[7] + nose * look[8])
            pore, other = look[9], _noise(y, z, x, sizes[0], shifts[0], lattice)
            p = normal[row, column, 0] + pore * fine
            q = normal[row, column, 1] + pore * other
            r = normal[row, column, 2] + pore * middle
            length = math.sqrt(p * p + q * q + r * r) + 1e-6
            normal[row, column, 0], normal[row, column, 1] = p / length, q / length
            normal[row, column, 2] = r / length


def smeared(rgb: NDArray[np.uint8], rng: np.random.Generator) -> NDArray[np.uint8]:
    """A picture whose noise was taken away with its detail, or that was sharpened, now and then."""
    kind = rng.random()
    if kind < 0.12:
        return np.asarray(cv2.bilateralFilter(rgb, 5, rng.uniform(10, 45), 3.0), dtype=np.uint8)
    if kind < 0.3:
        soft = cv2.GaussianBlur(rgb, (0, 0), rng.uniform(0.7, 2.0)).astype(np.float32)
        sharp = rgb + rng.uniform(0.2, 1.3) * (rgb - soft)
        return np.clip(sharp, 0, 255).astype(np.uint8)
    return rgb


@cache
def _lattice() -> Floats:
    noise = np.random.default_rng(5).normal(size=(_CELLS,) * 3).astype(np.float32)
    return noise / float(noise.std())
