"""Skin and eyes of the sitters of ``faces.py``, fine enough for a camera to see.

The head's mesh is split until its corners lie about half a millimetre apart and rounded on the way
(Boubekeur & Alexa 2008, Phong tessellation). Colour and roughness then sit on these corners, so
that freckles, moles, pores and stubble stay with the skin from frame to frame.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, identity, vstack
from scipy.spatial import cKDTree

from builders.traced.faces import soft_region
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
_LEVELS, _EYE_LEVELS = 3, 2
_ROUNDED = 0.6  # of the way to the curved surface
TONES = (0.08, 0.25)  # reflectance between deep, middle and light skin
_PUPIL_MM, _IRIS_MM = 2.1, 5.85
BEARD_REGIONS = ("CHIN", "JAW", "UNDER_JAW", "UPPER_LIP_SKIN")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A sitter's linear colours (3,), the seed of everything fine, and what lies on the skin.

    ``rough`` is the microfacets' roughness, ``stubble`` 0 to 1; freckles and moles are counts.
    """

    tone: Array
    hair: Array
    iris: Array
    seed: int
    rough: float
    freckles: int
    moles: int
    stubble: float
    bald: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A split mesh: ``weights`` (N, V) of the head's vertices and triangles (T, 3) between them."""

    weights: csr_matrix
    triangles: Ints


def draw_look(rng: np.random.Generator) -> Look:
    """Skin from very deep to very light, with what lies on it."""
    bright = float(np.exp(rng.uniform(np.log(0.035), np.log(0.55))))
    tone = bright * np.array([1.0, rng.uniform(0.62, 0.74), rng.uniform(0.44, 0.6)])
    grey = rng.random() < 0.2
    hair = rng.uniform(0.25, 0.5) if grey else np.exp(rng.uniform(np.log(0.008), np.log(0.2)))
    tint = (1.0, 1.0, 1.0) if grey else (1.0, rng.uniform(0.6, 0.85), rng.uniform(0.35, 0.7))
    return Look(
        tone=tone,
        hair=float(hair) * np.array(tint),
        iris=np.exp(rng.uniform(np.log(0.02), np.log(0.14))) * rng.uniform(0.5, 1.0, 3),
        seed=int(rng.integers(1 << 30)),
        rough=float(rng.uniform(0.38, 0.62)),
        freckles=int(rng.integers(100, 500)) if rng.random() < 0.3 else 0,
        moles=int(rng.poisson(6)),
        stubble=float(rng.uniform(0.3, 1.0)) if rng.random() < 0.25 else 0.0,
        bald=bool(rng.random() < 0.12),
    )


@cache
def skin_surface() -> Surface:
    """The split skin; its triangle ``t`` is a piece of triangle ``t % len(skin_regions())``."""
    return _split(load_template().triangles[_is_skin()], _LEVELS)


@cache
def skin_regions() -> NDArray[np.int64]:
    """Region of each triangle of the skin before it is split."""
    return load_template().region_of_triangle[_is_skin()].astype(np.int64)


def _is_skin() -> NDArray[np.bool_]:
    eyes = [r for r in Region if r.name.startswith(("WHITE", "IRIS"))]
    return np.asarray(~np.isin(load_template().region_of_triangle, eyes))


@cache
def eye_surface(side: str) -> Surface:
    """One split eyeball."""
    template = load_template()
    ball = np.isin(template.triangles, template.eyeball_vertices[side]).all(axis=1)
    return _split(template.triangles[ball], _EYE_LEVELS)


def _split(triangles: NDArray[np.int32], levels: int) -> Surface:
    used, corners = np.unique(triangles, return_inverse=True)
    weights = identity(len(load_template().vertices_mm), format="csr")[used]
    corners = corners.reshape(-1, 3).astype(np.int64)
    for _ in range(levels):
        sides = np.sort(corners[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        unique, index = np.unique(sides, axis=0, return_inverse=True)
        middle = index.reshape(-1, 3) + weights.shape[0]
        weights = vstack([weights, 0.5 * (weights[unique[:, 0]] + weights[unique[:, 1]])]).tocsr()
        (a, b, c), (ab, bc, ca) = corners.T, middle.T
        corners = np.concatenate(
            [
                np.stack(three, axis=1)
                for three in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
            ]
        )
    return Surface(weights=weights, triangles=corners)


def corner_normals(vertices: Array, triangles: NDArray[np.int32]) -> Array:
    """Unit normals (V, 3), each triangle counted by its area."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    normals = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(normals, triangles[:, k], across)
    return np.asarray(normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-9))


def rounded(surface: Surface, head: Head) -> tuple[Array, Array]:
    """Places and unit normals (N, 3) of the split corners, in the head frame."""
    vertices, template = head.vertices_mm.astype(np.float64), load_template()
    normals = corner_normals(vertices, template.triangles)
    flat, weights = surface.weights @ vertices, surface.weights
    outer = weights @ np.einsum("vi,vj->vij", normals, normals).reshape(-1, 9)
    height = weights @ (normals * np.einsum("vi,vi->v", normals, vertices)[:, None])
    lift = np.einsum("nij,nj->ni", outer.reshape(-1, 3, 3), flat) - height
    soft = weights @ normals
    soft /= np.maximum(np.linalg.norm(soft, axis=1, keepdims=True), 1e-9)
    return flat - _ROUNDED * lift, soft


def pore_bumps(look: Look) -> Array:
    """What pores add to the skin's normals (N, 3)."""
    rng = np.random.default_rng((look.seed, 1))
    count = skin_surface().weights.shape[0]
    return rng.normal(size=(count, 3)) * rng.uniform(0.01, 0.04)


def skin_colours(head: Head, look: Look) -> Array:
    """Linear colour (N, 3) of the split skin, the same in all frames of a sitter."""
    rng = np.random.default_rng((look.seed, 2))
    places = skin_surface().weights @ head.vertices_mm.astype(np.float64)
    dark = sum(
        amount * np.sin(places @ rng.normal(size=3) / size + rng.uniform(0, 6.3))
        for size, amount in ((25.0, 0.05), (9.0, 0.04), (4.0, 0.04), (1.6, 0.04))
    ) + rng.normal(0.0, rng.uniform(0.03, 0.09), len(places))
    dark = np.asarray(dark) + _spots(places, look, rng)
    flushed = _share("CHEEK", "NOSE_TIP", "NOSE_WING", "EAR", rounds=4)
    red = 0.22 * rng.random() * flushed
    colours = look.tone * np.exp(red[:, None] * (0.3, -0.6, -0.5) - dark[:, None])
    lips = np.array([0.8, rng.uniform(0.4, 0.65), rng.uniform(0.5, 0.7)])
    colours *= 1.0 - rng.uniform(0.5, 1.0) * _share("LIP_")[:, None] * (1.0 - lips)
    colours *= 1.0 - 0.85 * _share("SOCKET", "NOSTRIL")[:, None]
    haired = _hair_cover(look, rng)[:, None]
    colours = colours * (1.0 - haired) + look.hair * haired
    return np.asarray(
        np.clip(colours * lash_line(places, head, 1.6, 0.65, 0.3)[:, None], 0.003, 0.95)
    )


def _share(*stems: str, rounds: int = 0) -> Array:
    """How far each split corner (N,) belongs to the regions of these names."""
    return np.asarray(skin_surface().weights @ soft_region(stems, rounds))


def _spots(places: Array, look: Look, rng: np.random.Generator) -> Array:
    """What freckles and moles (N,) take from the skin, as natural logarithm."""
    near, dark = cKDTree(places), np.zeros(len(places))
    sunny = _share("CHEEK", "NOSE", "FOREHEAD", rounds=2)
    anywhere = _share("CHEEK", "FOREHEAD", "JAW", "NECK", "CHIN", "TEMPLE", "UPPER_LIP_SKIN")
    for count, where, radius, depth in (
        (look.freckles, sunny, (0.4, 1.2), (0.15, 0.5)),
        (look.moles, anywhere, (0.7, 2.0), (0.5, 1.3)),
    ):
        middles = rng.choice(len(places), count, p=where / where.sum())
        for middle in middles:
            wide = rng.uniform(*radius)
            spot = near.query_ball_point(places[middle], 2.0 * wide)
            away = np.linalg.norm(places[spot] - places[middle], axis=1) / wide
            dark[spot] += rng.uniform(*depth) / (1.0 + away**6)
    return dark


def _hair_cover(look: Look, rng: np.random.Generator) -> Array:
    """How much of the skin (N,) brows, stubble and the roots of hair cover."""
    count = skin_surface().weights.shape[0]
    brows = _share("BROW") ** 2 * np.where(rng.random(count) < rng.uniform(0.5, 0.9), 0.8, 0.1)
    beard = _share(*BEARD_REGIONS, rounds=2) * look.stubble
    stubble = np.where(rng.random(count) < 0.45, 0.75, 0.15) * beard
    scalp = _share("SCALP", rounds=1) * (0.15 if look.bald else 1.0)
    return np.asarray(1.0 - (1.0 - brows) * (1.0 - stubble) * (1.0 - 0.92 * scalp))


def lash_line(places: Array, head: Head, edge_mm: float, upper: float, lower: float) -> Array:
    """A factor (N,) that darkens the lids' edges against the eyeballs, the upper ones more.

    ``edge_mm`` is how far from the eyeball it reaches, ``upper`` and ``lower`` how dark it gets.
    """
    factor = np.ones(len(places))
    for side in SIDES:
        away = places - head.eye_centre_mm[side]
        gap = np.linalg.norm(away, axis=1) - head.eye_radius_mm
        edge = np.clip(edge_mm - gap, 0.0, 1.0) * (away[:, 2] > 0)
        factor *= 1.0 - edge * np.where(away[:, 1] > -1.0, upper, lower)
    return factor


def eyeball(head: Head, look: Look, side: str, gaze: Array) -> tuple[Array, Array, Array]:
    """Places, unit normals and colours (N, 3) of one eye that looks along ``gaze`` (3,)."""
    surface, rng = eye_surface(side), np.random.default_rng((look.seed, 3))
    centre = np.asarray(head.eye_centre_mm[side], dtype=float)
    out = surface.weights @ head.vertices_mm.astype(np.float64) - centre
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    off_mm = head.eye_radius_mm * np.sin(np.arccos(np.clip(out @ gaze, -1.0, 1.0)))
    off_mm = np.where(out @ gaze > 0, off_mm, head.eye_radius_mm)
    streaks = np.exp(rng.normal(0.0, 0.25, len(out)))
    iris = look.iris * streaks[:, None] * np.where(off_mm > _IRIS_MM - 0.7, 0.4, 1.0)[:, None]
    white = np.array([0.62, 0.55, 0.5]) * np.exp(rng.normal(0.0, 0.05, len(out)))[:, None]
    inside = np.clip((_IRIS_MM + 0.2 - off_mm) / 0.4, 0.0, 1.0)[:, None]
    pupil = np.clip((_PUPIL_MM + 0.15 - off_mm) / 0.3, 0.0, 1.0)[:, None]
    colours = (white * (1.0 - inside) + iris * inside) * (1.0 - pupil) + 0.004 * pupil
    return centre + head.eye_radius_mm * out, out, np.clip(colours, 0.003, 0.9)
