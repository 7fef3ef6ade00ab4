"""Eyeballs for a camera that comes close: a white with veins, a cornea, an iris with its fibres."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
IRIS_MM, PUPIL_MM, CORNEA_MM = 5.85, 1.75, 7.8
_RINGS, _SECTORS = 150, 220
_BULGE = 0.45  # of a true cornea's height: the lids of the head have no room for all of it


@cache
def _grid(radius_mm: float) -> tuple[Array, Array, Ints]:
    """Angle off the axis and around it (N,) of a cap's corners, and its triangles."""
    fine = np.linspace(0.0, np.radians(34.0), _RINGS * 2 // 3)
    wide = np.linspace(fine[-1], np.radians(115.0), _RINGS - len(fine) + 1)[1:]
    off, around = np.meshgrid(
        np.r_[fine, wide], np.linspace(0, 2 * np.pi, _SECTORS, endpoint=False), indexing="ij"
    )
    index = np.arange(off.size).reshape(off.shape)
    a, b = index[:-1], index[1:]
    c, d = np.roll(a, -1, axis=1), np.roll(b, -1, axis=1)
    triangles = np.concatenate(
        [np.stack([a, b, c], -1).reshape(-1, 3), np.stack([c, b, d], -1).reshape(-1, 3)]
    )
    return off.ravel(), around.ravel(), triangles


def eyeball(
    centre: Array, gaze: Array, radius_mm: float, iris: Array, key: Array, seed: int
) -> tuple[Array, Ints, Array, Array]:
    """Corners, triangles, colours and normals of an eye that looks along ``gaze`` (3,).

    ``key`` (3,) is the way to the main light: the cornea gathers it on the iris's far side.
    """
    off, around, triangles = _grid(radius_mm)
    across = np.cross([0.0, 1.0, 0.0], gaze)
    across /= np.linalg.norm(across)
    up = np.cross(gaze, across)
    flat = np.cos(around)[:, None] * across + np.sin(around)[:, None] * up
    out = np.cos(off)[:, None] * gaze + np.sin(off)[:, None] * flat
    wide = radius_mm * np.sin(off)
    # the cornea: a smaller sphere whose edge is the limbus
    sag = CORNEA_MM - np.sqrt(CORNEA_MM**2 - IRIS_MM**2)
    own = np.clip(wide / IRIS_MM, 0.0, 1.0)
    ahead = off < np.pi / 2
    under = radius_mm - np.sqrt(radius_mm**2 - np.minimum(wide, IRIS_MM) ** 2)
    rim = radius_mm - np.sqrt(radius_mm**2 - IRIS_MM**2)
    dome = sag - (CORNEA_MM - np.sqrt(CORNEA_MM**2 - (IRIS_MM * own) ** 2)) - (rim - under)
    inside = ahead & (wide < IRIS_MM)
    places = centre + radius_mm * out + _BULGE * np.where(inside, dome, 0.0)[:, None] * gaze
    slope = np.where(inside, wide / CORNEA_MM, 0.0)
    curved = np.sqrt(1.0 - slope**2)[:, None] * gaze + slope[:, None] * flat
    blend = np.clip((IRIS_MM - wide) / 0.8, 0.0, 1.0)[:, None] * ahead[:, None]
    normals = blend * curved + (1.0 - blend) * out
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return (
        places,
        triangles,
        _colours(off, around, wide, ahead, iris, key, across, up, seed),
        normals,
    )


def _colours(
    off: Array, around: Array, wide: Array, ahead: NDArray[np.bool_], iris: Array, key: Array,
    across: Array, up: Array, seed: int,
) -> Array:  # fmt: skip
    rng = np.random.default_rng(seed)
    reach = wide / IRIS_MM
    fibres = np.zeros(len(off))
    for waves, size in ((23, 0.10), (41, 0.14), (67, 0.16), (103, 0.14)):
        shift, twist = rng.uniform(0, 6.28), rng.normal(0, 1.2)
        fibres += size * np.sin(waves * around + shift + twist * reach * 3.0)
    collar = np.exp(-(((reach - 0.47 - 0.03 * np.sin(9 * around)) / 0.10) ** 2))
    tone = np.exp(fibres + 0.45 * collar - 0.25)
    # the light that the cornea throws on the side away from the key
    side = np.array([key @ across, key @ up])
    side /= max(float(np.linalg.norm(side)), 1e-6)
    away = -(np.cos(around) * side[0] + np.sin(around) * side[1]) * np.clip(reach, 0, 1)
    tone *= 0.75 + 0.75 * np.clip(away, -0.5, 1.0)
    painted = iris[None, :] * tone[:, None]
    amber = np.array([1.25, 0.9, 0.6])
    painted *= 1.0 + collar[:, None] * (amber - 1.0) * 0.6
    limbus = np.clip((reach - 0.80) / 0.18, 0.0, 1.0)[:, None]
    painted *= 1.0 - 0.8 * limbus**1.5
    veins = np.zeros(len(off))
    for _ in range(26):
        start, bend, phase = rng.uniform(0, 6.28), rng.normal(0, 0.25), rng.uniform(0, 6.28)
        line = start + bend * np.sin(3.0 * off + phase) + 0.05 * np.sin(17 * off + phase)
        near = np.angle(np.exp(1j * (around - line)))
        veins += np.exp(-((near / 0.012) ** 2)) * np.clip((off - 0.75) / 0.35, 0.0, 1.0)
    edge = np.clip((off - 0.55) / 0.55, 0.0, 1.0)[:, None]
    white = np.array([0.50, 0.455, 0.42]) * (1.0 - edge * np.array([0.22, 0.42, 0.45]))
    white = white * (1.0 - np.clip(veins, 0, 1)[:, None] * np.array([0.12, 0.45, 0.42]))
    inside = (np.clip((IRIS_MM + 0.30 - wide) / 0.6, 0.0, 1.0) * ahead)[:, None]
    pupil = (np.clip((PUPIL_MM + 0.10 - wide) / 0.2, 0.0, 1.0) * ahead)[:, None]
    colours = (white * (1.0 - inside) + painted * inside) * (1.0 - pupil) + 0.002 * pupil
    return np.asarray(np.clip(colours, 0.002, 0.9))
