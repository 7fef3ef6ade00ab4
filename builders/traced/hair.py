"""Hair and beards of the sitters of ``faces.py``: curves that grow, are combed and hang."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builders.traced.faces import soft_region
from builders.traced.skin import BEARD_REGIONS, corner_normals
from sitwell.head.surface import Head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
_STEPS = 12
_DOWN, _AHEAD = np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0])
_BUN_MM, _BUN_RADIUS_MM = np.array([0.0, 55.0, -172.0]), 34.0
_FRINGE_AT_MM = -22.0  # hair that grows before this may be combed into the face


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How hair falls: its length in mm, how strongly it is combed by ``way`` and hangs down."""

    name: str
    often: float
    length_mm: tuple[float, float]
    way: str
    hang: float
    lift: float


STYLES = (
    Style(name="short", often=0.3, length_mm=(12, 38), way="ahead", hang=0.1, lift=0.5),
    Style(name="swept", often=0.12, length_mm=(50, 110), way="back", hang=0.15, lift=0.35),
    Style(name="bob", often=0.14, length_mm=(120, 170), way="parted", hang=0.75, lift=0.3),
    Style(name="long", often=0.18, length_mm=(220, 340), way="parted", hang=0.8, lift=0.25),
    Style(name="bun", often=0.1, length_mm=(150, 200), way="bun", hang=0.0, lift=0.2),
    Style(name="round", often=0.08, length_mm=(35, 80), way="out", hang=0.0, lift=3.0),
    Style(name="cropped", often=0.08, length_mm=(0, 0), way="ahead", hang=0.0, lift=0.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Hairs in the head frame: ``points_mm`` (N, S, 3) and one ``radius_mm`` for all."""

    points_mm: Array
    radius_mm: float


def draw_style(rng: np.random.Generator) -> Style:
    """A style by how often it is worn."""
    often = np.array([style.often for style in STYLES])
    return STYLES[int(rng.choice(len(STYLES), p=often / often.sum()))]


def grow_hair(
    head: Head, style: Style, bare: Array, rng: np.random.Generator, *, fringe: bool
) -> Curves:
    """The hair of a head where a hat leaves it ``bare`` (V,), ``fringe`` with its front combed
    down over the forehead.
    """
    count = int(rng.uniform(3000, 4500))
    roots, normals = _roots(head, soft_region(("SCALP",), 0) * bare, count, rng)
    length = rng.uniform(*style.length_mm) * np.exp(rng.normal(0.0, 0.12, count))
    comb = _ways(style, roots, rng)
    hang = np.full(count, style.hang)
    if fringe:
        front = (roots[:, 2] > _FRINGE_AT_MM) & (np.abs(roots[:, 0]) < 62)
        comb[front] = _AHEAD + 0.5 * _DOWN + rng.normal(0.0, 0.15, (front.sum(), 3))
        reach = np.linalg.norm(roots[front] - head.point("brow_centre"), axis=1)
        length[front] = np.maximum(reach, 20.0) * rng.uniform(0.85, 1.1, front.sum())
        hang[front] = 0.5
    layer = rng.uniform(1.5, 8.0 if style.length_mm[1] > 60 else 4.0, count)
    combed = _Combed(
        comb=comb, hang=hang, lift=style.lift, layer_mm=layer, wave=rng.uniform(0, 0.35)
    )
    points = _grown(head, roots, normals, length, combed, rng)
    return Curves(points_mm=points, radius_mm=float(rng.uniform(0.35, 0.6)))


def grow_beard(head: Head, rng: np.random.Generator) -> Curves:
    """A full beard and moustache."""
    count = int(rng.uniform(3500, 5000))
    where = soft_region(BEARD_REGIONS, 1) * (1.0 - soft_region(("LIP_", "NECK", "NOSE"), 1))
    roots, normals = _roots(head, where, count, rng)
    length = rng.uniform(6, 45) * np.exp(rng.normal(0.0, 0.25, count))
    lip = soft_region(("UPPER_LIP_SKIN",), 1)[_nearest(head, roots)] > 0.5
    length[lip] = np.minimum(length[lip], rng.uniform(5, 14))
    comb = 0.9 * _DOWN + np.sign(roots[:, :1]) * (lip[:, None] * np.array([0.9, 0.0, 0.0]))
    combed = _Combed(
        comb=comb, hang=np.full(count, 0.35), lift=1.0,
        layer_mm=rng.uniform(0.3, 3.0, count), wave=rng.uniform(0.1, 0.6),
    )  # fmt: skip
    points = _grown(head, roots, normals, length, combed, rng)
    return Curves(points_mm=points, radius_mm=float(rng.uniform(0.16, 0.28)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Combed:
    """Directions (N, 3) each hair is combed in, how it hangs (N,), and how it lies on others."""

    comb: Array
    hang: Array
    lift: float
    layer_mm: Array
    wave: float


def _roots(head: Head, where: Array, count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Places and normals (N, 3) on the triangles whose corners all have a share above a half."""
    triangles = load_template().triangles
    grown = triangles[(where[triangles] > 0.5).all(axis=1)]
    vertices = head.vertices_mm.astype(np.float64)
    a, b, c = (vertices[grown[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    chosen = rng.choice(len(grown), count, p=area / area.sum())
    share = rng.dirichlet(np.ones(3), count)
    normals = corner_normals(vertices, triangles)
    return (
        np.einsum("nk,nkc->nc", share, vertices[grown[chosen]]),
        np.einsum("nk,nkc->nc", share, normals[grown[chosen]]),
    )


def _nearest(head: Head, points: Array) -> NDArray[np.int64]:
    return np.asarray(cKDTree(head.vertices_mm).query(points)[1])


def _ways(style: Style, roots: Array, rng: np.random.Generator) -> Array:
    """Which way (N, 3) each hair is combed."""
    part_mm = rng.uniform(-28, 28)
    side = np.sign(roots[:, :1] - part_mm)
    lean = rng.normal(0.0, 0.5)
    ways: Mapping[str, Array] = {
        "ahead": np.tile(_AHEAD * rng.choice([-1.0, 1.0]) + (lean, 0.0, 0.0), (len(roots), 1)),
        "back": np.tile(-_AHEAD + (0.4 * lean, 0.0, 0.0), (len(roots), 1)),
        "parted": side * (1.0, 0.0, 0.0) - 0.25 * _AHEAD,
        "bun": _BUN_MM - roots,
        "out": np.zeros_like(roots),
    }
    way = ways[style.way]
    way = way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    return np.asarray(way + rng.normal(0.0, 0.12, way.shape))


def _grown(
    head: Head,
    roots: Array,
    normals: Array,
    length_mm: Array,
    combed: _Combed,
    rng: np.random.Generator,
) -> Array:
    """Hairs (N, S, 3) step by step: along the comb, drawn down, kept outside the head."""
    vertices = head.vertices_mm.astype(np.float64)
    out, near = corner_normals(vertices, load_template().triangles), cKDTree(vertices)
    step = (length_mm / (_STEPS - 1))[:, None]
    curl = rng.normal(size=roots.shape)
    way, points = normals * combed.lift + combed.comb, [roots - 0.5 * normals]
    for number in range(1, _STEPS):
        fallen = combed.hang * min(1.0, number / 5.0)
        way = 0.6 * way + combed.comb * (0.6 * (1.0 - fallen))[:, None]
        way = way + 1.5 * fallen[:, None] * _DOWN
        bend = combed.wave * np.sin(0.9 * number + 3.0 * curl)
        way = way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9) + bend * 0.5
        place = points[-1] + step * way / np.linalg.norm(way, axis=1, keepdims=True)
        nearest = near.query(place)[1]
        height = np.einsum("nc,nc->n", place - vertices[nearest], out[nearest])
        rise = np.minimum(1.0, number / 3.0) * combed.layer_mm - height
        points.append(place + np.maximum(rise, 0.0)[:, None] * out[nearest])
        way = points[-1] - points[-2]
        way = way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    return np.stack(points, axis=1)


def bun(head: Head) -> tuple[Array, float]:
    """Middle (3,) and radius in mm of the knot that a bun is tied into."""
    scale = head.eye_radius_mm / load_template().eye_radius_mm
    return scale * _BUN_MM, scale * _BUN_RADIUS_MM
