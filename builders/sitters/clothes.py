"""A crew-neck over the plain body that the package's pictures stand on: folds and a neckband."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates
from scipy.spatial import cKDTree

from builders.traced.skin import corner_normals
from builders.traced.wear import tube
from sitwell.head.surface import Head
from sitwell.scene.bust import AROUND, DOWN, build_bust

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
_FINE_AROUND, _FINE_DOWN = 1500, 1100
_ROWS = 40  # of the body's rings that a picture of head and shoulders can hold
_EVENED, _RIBS, _BAND_MM = 12, 200, 4.5


def crew_neck(head: Head, cloth: Array, seed: int) -> list[tuple[Array, Ints, Array]]:
    """Corners, triangles and colours of the cloth and of its neckband, in the studio."""
    rng = np.random.default_rng((seed, 7))
    bust, _ = build_bust(head)
    rings = _level_collar(bust.reshape(DOWN, AROUND, 3)[:_ROWS])
    rows, columns = np.meshgrid(
        np.linspace(0, _ROWS - 1, _FINE_DOWN),
        np.linspace(0, AROUND, _FINE_AROUND, endpoint=False),
        indexing="ij",
    )
    wrapped = np.concatenate([rings, rings[:, :2]], axis=1)
    fine = np.stack(
        [
            map_coordinates(wrapped[..., axis], [rows, columns], order=1, mode="nearest")
            for axis in range(3)
        ],
        axis=-1,
    )
    fine = gaussian_filter1d(fine, 10.0, axis=1, mode="wrap")  # the rings' corners would show
    places = fine.reshape(-1, 3)
    index = np.arange(len(places)).reshape(rows.shape)
    here, below = index[:-1], index[1:]
    beside, across = np.roll(here, -1, axis=1), np.roll(below, -1, axis=1)
    corners = np.stack([here, below, beside, beside, below, across], -1).reshape(-1, 3)
    triangles = corners.astype(np.int32)
    normals = corner_normals(places, triangles)
    places = off_skin(places + _folds(places, head, rng)[:, None] * normals, head, 7.0)
    shade = np.exp(rng.normal(0.0, 0.03, len(places)))
    colours = np.clip(shade[:, None] * cloth, 0.003, 0.9)
    return [(places, corners, colours), _band(off_skin(rings[0], head, 9.0), cloth)]


def _level_collar(rings: Array) -> Array:
    """The rings with the collar laid in a plane: the neck's root is cut unevenly."""
    made = rings.copy()
    across = np.column_stack([rings[0, :, 2], np.ones(AROUND)])
    slope, level = np.linalg.lstsq(across, rings[0, :, 1], rcond=None)[0]
    off = rings[0, :, 1] - (slope * rings[0, :, 2] + level)
    for row in range(_EVENED):
        made[row, :, 1] -= (1.0 - row / _EVENED) * off
    return made


def off_skin(places: Array, head: Head, least_mm: float) -> Array:
    """Cloth lifted off the neck wherever it would lie in it."""
    vertices = head.vertices_mm.astype(np.float64)
    skin, normals = vertices, corner_normals(vertices, head.triangles)
    low = skin[:, 1] < float(head.point("chin")[1]) - 8.0
    far, nearest = cKDTree(skin[low]).query(places, 6)
    close = np.exp(-((far - far[:, :1]) / 6.0))
    close /= close.sum(axis=1, keepdims=True)
    out = np.einsum("nk,nkc->nc", close, normals[low][nearest])
    on = np.einsum("nk,nkc->nc", close, skin[low][nearest])
    height = np.einsum("nc,nc->n", places - on, out)
    fade = np.clip((40.0 - far[:, 0]) / 34.0, 0.0, 1.0)
    lift = fade * np.clip(least_mm - height, 0.0, 25.0)
    return np.asarray(places + lift[:, None] * out)


def _folds(places: Array, head: Head, rng: np.random.Generator) -> Array:
    """How far (N,) the cloth stands off the body: soft folds that run from shoulder to chest."""
    x, y, z = places.T
    low = float(head.point("chin")[1]) - 60.0
    free = np.clip((low - y) / 60.0, 0.0, 1.0)
    total = np.zeros(len(places))
    for wide, deep in ((70.0, 3.0), (38.0, 1.8), (20.0, 0.8)):
        for _ in range(3):
            tilt = rng.normal(0.0, 0.5)
            across = np.abs(x) * np.cos(tilt) + (y + 0.4 * z) * np.sin(tilt)
            warp = 0.5 * wide * np.sin((y + z) / (2.2 * wide) + rng.uniform(0, 6.28))
            total += deep / 2.0 * np.sin((across + warp) / wide * 3.1 + rng.uniform(0, 6.28))
    return free * total


def _band(ring: Array, cloth: Array) -> tuple[Array, Ints, Array]:
    """A ribbed band along the collar's ring (AROUND, 3)."""
    at = np.linspace(0, AROUND, _RIBS * 6, endpoint=False)
    line = np.stack(
        [np.interp(at, np.arange(AROUND + 1), np.r_[side, side[0]]) for side in ring.T], axis=1
    )
    band = tube(line, _BAND_MM, cloth, closed=True)
    rings = band.points_mm.reshape(len(line), -1, 3)
    rib = np.sin(2.0 * np.pi * np.arange(len(line)) / 6.0)[:, None, None]
    flat = line[:, None] + (rings - line[:, None]) * (0.5, 1.8, 0.5)
    middle = flat.mean(axis=1, keepdims=True)
    flat = middle + (flat - middle) * (1.0 + 0.05 * rib)
    shade = np.broadcast_to((0.93 + 0.07 * rib) * cloth, flat.shape)
    return flat.reshape(-1, 3), band.triangles, np.clip(shade.reshape(-1, 3), 0.003, 0.9)
