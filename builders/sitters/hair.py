"""Hair of the invented sitters, strand by strand: grown as locks, combed, curled, drawn down.

A few hundred guides grow over the head step by step, never into it or into the shoulders; each
strand goes the way of the guides nearest to its root. Head frame, millimetres, neutral pose.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builders.traced.faces import soft_region
from builders.traced.skin import corner_normals, rounded, skin_surface
from sitwell.head.surface import Head
from sitwell.head.template import load_template
from sitwell.scene.bust import build_bust

Array = NDArray[np.float64]
UP = np.array([0.0, 1.0, 0.0])
_NEAR = 3  # guides that a strand that is no curl goes by
_ROOT_MM = 0.15  # hair begins this deep in the skin


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How hair is worn; lengths in mm.

    ``length_mm`` is what grows at the sides and on top, ``way`` the name of its combing. ``hang``
    is how soon it falls, ``lift`` how steeply it leaves the skin; ``wave_mm`` and
    ``wave_length_mm`` shape its waves or curls, ``lock`` (0 to 1) is how far strands gather,
    ``stray`` how many don't, ``hold`` how closely it keeps to its layer on the skull.
    """

    way: str
    length_mm: tuple[float, float]
    hang: float = 0.1
    lift: float = 0.5
    layer_mm: float = 4.0
    wave_mm: float = 0.0
    wave_length_mm: float = 60.0
    guides: int = 900
    lock: float = 0.5
    stray: float = 0.05
    part_mm: float = 0.0
    hold: float = 0.0


STYLES: Mapping[str, Style] = {
    "side-parted": Style(
        way="aside", length_mm=(10.0, 52.0), hang=0.10, lift=0.8, layer_mm=11.0, wave_mm=1.6,
        wave_length_mm=38.0, lock=0.5, stray=0.05, part_mm=36.0, hold=0.22,
    ),
    "swept-back": Style(
        way="back", length_mm=(30.0, 95.0), hang=0.12, lift=0.55, layer_mm=10.0, wave_mm=2.0,
        wave_length_mm=70.0, lock=0.5, hold=0.2,
    ),
    "curls": Style(
        way="out", length_mm=(38.0, 56.0), hang=0.10, lift=3.0, layer_mm=2.0, wave_mm=4.2,
        wave_length_mm=13.0, guides=1500, lock=0.72, stray=0.10,
    ),
    "coils": Style(
        way="out", length_mm=(22.0, 34.0), hang=0.02, lift=3.0, layer_mm=1.0, wave_mm=2.0,
        wave_length_mm=7.0, guides=2600, lock=0.6, stray=0.12,
    ),
    "long": Style(
        way="parted", length_mm=(330.0, 360.0), hang=0.55, lift=0.3, layer_mm=8.0, wave_mm=5.0,
        wave_length_mm=95.0, guides=700, lock=0.55, stray=0.04, part_mm=12.0, hold=0.3,
    ),
    "bob": Style(
        way="parted", length_mm=(165.0, 190.0), hang=0.55, lift=0.3, layer_mm=8.0, wave_mm=2.5,
        wave_length_mm=90.0, guides=700, lock=0.5, stray=0.04, part_mm=-20.0, hold=0.3,
    ),
    "tied-back": Style(
        way="tied", length_mm=(150.0, 190.0), lift=0.2, layer_mm=3.0, wave_mm=0.6,
        wave_length_mm=60.0, guides=1100, lock=0.35, stray=0.03,
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Strands:
    """Hairs of one kind: ``points_mm`` (N, S, 3), ``radius_mm`` (N, S)."""

    points_mm: Array
    radius_mm: Array

    def some(self, chosen: NDArray[np.bool_]) -> "Strands":
        """Those of a mask (N,)."""
        return Strands(points_mm=self.points_mm[chosen], radius_mm=self.radius_mm[chosen])


class Ground:
    """What hair can't grow into: the skin and the shoulders below it, in the neutral pose."""

    def __init__(self, head: Head) -> None:
        places, normals = rounded(skin_surface(), head)
        bust, triangles = build_bust(head)
        self._places = np.vstack([places[::4], bust])
        self._normals = np.vstack([normals[::4], corner_normals(bust, triangles)])
        self._near = cKDTree(self._places)

    def outside(self, points: Array, layer_mm: Array, hold: float = 0.0) -> Array:
        """Points (N, 3) lifted until they lie ``layer_mm`` (N,) off the ground.

        ``hold`` is the share of what they lie higher above the skull that they are drawn back by.
        """
        far, nearest = self._near.query(points)
        normals = self._normals[nearest]
        height = np.einsum("nc,nc->n", points - self._places[nearest], normals)
        lifted = np.where(far < 45.0, np.maximum(layer_mm - height, 0.0), 0.0)
        drawn = hold * np.clip(height - layer_mm, 0.0, 25.0) * (points[:, 1] > -20.0)
        return points + (lifted - drawn)[:, None] * normals


def unit(vectors: Array) -> Array:
    """Vectors (..., 3) of length one."""
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9))


def roots(head: Head, share: Array, count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Places and normals (N, 3) on the skin, as dense as the corners' ``share`` (V,) says."""
    triangles, vertices = load_template().triangles, head.vertices_mm.astype(np.float64)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    weight = np.linalg.norm(across, axis=1) * share[triangles].mean(axis=1) ** 2
    chosen = rng.choice(len(triangles), count, p=weight / weight.sum())
    at = rng.dirichlet(np.ones(3), count)
    # a triangle half in the region grows hair on that half
    corner = share[triangles[chosen]]
    keep = rng.random(count) < np.clip(2.0 * (at * corner).sum(axis=1) - 0.3, 0.0, 1.0)
    normals = corner_normals(vertices, triangles)[triangles[chosen]]
    spots = np.einsum("nk,nkc->nc", at, vertices[triangles[chosen]])
    return spots[keep], unit(np.einsum("nk,nkc->nc", at, normals))[keep]


def grow_hair(
    head: Head, style: Style, count: int, radius_mm: float, rng: np.random.Generator
) -> Strands:
    """A head of hair of about ``count`` strands."""
    share = soft_region(("SCALP",), 0) * _above_ears(head)
    ground = Ground(head)
    leads, up = roots(head, share, style.guides, rng)
    guides = _guides(ground, leads, up, style, rng)
    if style.part_mm != 0.0:  # hair at a parting lies over no other: more of it hides the skin
        share = share * (
            1.0 + 0.9 * np.exp(-(((head.vertices_mm[:, 0] - style.part_mm) / 12.0) ** 2))
        )
    spots, normals = roots(head, share, count, rng)
    points = _followed(guides, spots, normals, style, rng)
    return finished(ground, points, radius_mm, rng)


def _above_ears(head: Head) -> Array:
    """Hair thins toward its line (V,), so that it has no edge."""
    scalp = soft_region(("SCALP",), 0)
    return np.asarray(np.clip(1.25 * scalp, 0.0, 1.0))


def _length(spots: Array, style: Style) -> Array:
    """Length (N,) by place: short at the sides and the nape, long on top."""
    on_top = np.clip((spots[:, 1] - 38.0) / 36.0, 0.0, 1.0)
    on_top = on_top * on_top * (3.0 - 2.0 * on_top)
    nape = np.clip((spots[:, 1] + 75.0) / 60.0, 0.45, 1.0)
    side, top = style.length_mm
    return np.asarray((side + (top - side) * on_top) * (nape if top < 150.0 else 1.0))


def _combed(spots: Array, style: Style) -> Array:
    """The way (N, 3) hair is combed where it grows."""
    x, y, z = spots.T
    on_top = np.clip((y - 45.0) / 30.0, 0.0, 1.0)[:, None]
    beside = np.sign(x - style.part_mm)[:, None]
    down_back = np.array([0.0, -0.9, -0.55])
    if style.way == "aside":
        over = np.where(
            beside < 0, np.array([-1.0, 0.55, 0.05]), np.array([0.7, -0.5, -0.35])
        ) + np.clip((z[:, None] + 20.0) / 30.0, 0.0, 1.0) * np.array([0.0, 0.45, -0.35])
        return np.asarray(on_top * over + (1.0 - on_top) * down_back)
    if style.way == "back":
        over = np.stack([0.006 * x, np.where(z > -30, 0.5, -0.1), -np.ones(len(x))], axis=1)
        return np.asarray(on_top * over + (1.0 - on_top) * np.array([0.0, -0.45, -1.0]))
    if style.way == "parted":
        over = beside * np.array([1.0, 0.0, 0.0]) + np.array([0.0, 0.15, -0.45])
        return np.asarray(on_top * over + (1.0 - on_top) * np.array([0.0, -1.0, -0.28]))
    if style.way == "tied":
        return np.array([0.0, 42.0, -195.0]) - spots
    return np.zeros_like(spots)


def _guides(
    ground: Ground, leads: Array, up: Array, style: Style, rng: np.random.Generator
) -> Array:
    """Guides (G, S, 3), each from its lead."""
    long = style.length_mm[1] > 150.0
    steps = 26 if long else 14
    length = _length(leads, style) * np.exp(rng.normal(0.0, 0.10, len(leads)))
    step = (length / steps)[:, None]
    comb = _along(_combed(leads, style), up)
    comb = comb + 0.28 * waving(leads, 26.0, rng) + rng.normal(0.0, 0.07, leads.shape)
    layer = style.layer_mm * rng.uniform(0.15, 1.0, len(leads))
    way, here = unit(up * style.lift + comb), leads - _ROOT_MM * up
    points = [here]
    for number in range(1, steps + 1):
        fallen = style.hang * min(1.0, number * step.mean() / 45.0)
        pull = comb if style.way != "tied" else _tied(here)
        way = unit(way + 0.45 * (1.0 - fallen) * pull - 1.1 * fallen * UP)
        if long:
            way = unit(_off_face(way, here, style))
        rise = layer * min(1.0, number / 3.0)
        moved = ground.outside(here + step * way, rise, style.hold)
        way, here = unit(moved - here), moved
        points.append(here)
    return _waved(np.stack(points, axis=1), length, style, rng)


def _along(comb: Array, up: Array) -> Array:
    """A combing laid along the skin."""
    return unit(comb - np.einsum("nc,nc->n", comb, up)[:, None] * up)


def _tied(here: Array) -> Array:
    """Toward the knot at the back of the head, and close to it no further."""
    off = np.array([0.0, 42.0, -192.0]) - here
    return unit(off) * np.clip(np.linalg.norm(off, axis=1, keepdims=True) / 25.0, 0.0, 1.0)


def _off_face(way: Array, here: Array, style: Style) -> Array:
    """Hair that would fall before the face goes to its side."""
    x, y, z = here.T
    before = (z > -62.0) & (y < 62.0) & (np.abs(x) < 80.0)
    turned = way.copy()
    turned[before, 0] += 0.55 * np.sign(x[before] - 0.3 * style.part_mm)
    turned[before, 2] -= 0.55
    return turned


def _waved(points: Array, length: Array, style: Style, rng: np.random.Generator) -> Array:
    """Guides with waves or curls about their own line."""
    if style.wave_mm == 0.0:
        return points
    along = unit(np.gradient(points, axis=1))
    curly = style.way == "out"
    if curly:  # a helix needs more points than the line under it
        fine = int(np.ceil(7.0 * style.length_mm[1] / style.wave_length_mm))
        at = np.linspace(0.0, points.shape[1] - 1.0, fine)
        low = np.minimum(at.astype(int), points.shape[1] - 2)
        part = (at - low)[None, :, None]
        points = points[:, low] * (1.0 - part) + points[:, low + 1] * part
        along = unit(np.gradient(points, axis=1))
    share = np.linspace(0.0, 1.0, points.shape[1])[None, :]
    first = unit(np.cross(along, rng.normal(size=(len(points), 1, 3))))
    second = np.cross(along, first)
    size = style.wave_mm * np.exp(rng.normal(0.0, 0.25, (len(points), 1)))
    turns = length[:, None] / (style.wave_length_mm * np.exp(rng.normal(0, 0.15, (len(points), 1))))
    angle = 2.0 * np.pi * (share * turns) + 6.283 * rng.random((len(points), 1))
    grown = np.minimum(share * (6.0 if curly else 2.5), 1.0) * size
    flat = 1.0 if curly else 0.45
    return np.asarray(
        points + (grown * np.cos(angle))[..., None] * first
        + (flat * grown * np.sin(angle))[..., None] * second
    )  # fmt: skip


def _followed(
    guides: Array, spots: Array, normals: Array, style: Style, rng: np.random.Generator
) -> Array:
    """Strands (N, S, 3) from their own roots along the guides."""
    curly, steps = style.way == "out", guides.shape[1]
    near = 1 if curly else _NEAR
    far, which = cKDTree(guides[:, 0]).query(spots, near)
    far, which = far.reshape(len(spots), near), which.reshape(len(spots), near)
    # never across the parting
    apart = np.sign(guides[which, 0, 0] - style.part_mm) != np.sign(spots[:, :1] - style.part_mm)
    weight = np.where(apart & (near > 1), 1e-6, 1.0 / (far + 1.5) ** 2)
    weight /= weight.sum(axis=1, keepdims=True)
    lines = sum(weight[:, k, None, None] * guides[which[:, k]] for k in range(near))
    share = np.linspace(0.0, 1.0, steps)[None, :, None]
    offset = (spots - _ROOT_MM * normals - lines[:, 0])[:, None]
    lock = style.lock * np.exp(rng.normal(0.0, 0.3, (len(spots), 1, 1)))
    points = lines + offset * np.maximum(1.0 - lock * share**0.6, 0.12)
    # each strand is a little shorter or longer than its lock, and none lies quite like the next
    cut = np.clip(1.0 - np.abs(rng.normal(0.0, 0.16, (len(spots), 1, 1))), 0.45, 1.0)
    points = _shortened(points, cut[:, 0, 0])
    stray = np.where(rng.random(len(spots)) < style.stray, 3.0, 0.6)[:, None, None]
    own = np.cumsum(rng.normal(size=points.shape) * share, axis=1) / np.sqrt(steps)
    smooth = rng.normal(size=(len(spots), 1, 3)) * np.sin(
        share * rng.uniform(2.0, 7.0, (len(spots), 1, 1)) + rng.uniform(0, 6.28, (len(spots), 1, 1))
    )
    size = 0.012 * style.length_mm[1] + 0.35
    return np.asarray(points + size * stray * share * (0.35 * own + 0.8 * smooth))


def _shortened(points: Array, cut: Array) -> Array:
    """Strands (N, S, 3) cut off at a share (N,) of their length."""
    steps = points.shape[1]
    at = np.linspace(0.0, 1.0, steps)[None, :] * cut[:, None] * (steps - 1)
    low = np.minimum(at.astype(int), steps - 2)
    part = (at - low)[..., None]
    rows = np.arange(len(points))[:, None]
    return np.asarray(points[rows, low] * (1.0 - part) + points[rows, low + 1] * part)


def finished(ground: Ground, points: Array, radius_mm: float, rng: np.random.Generator) -> Strands:
    """Strands from their points (N, S, 3), outside the ground, thinner toward their tips."""
    count, steps, _ = points.shape
    for step in range(1, steps):
        points[:, step] = ground.outside(
            points[:, step], np.full(count, min(0.35 + 0.1 * step, 0.8))
        )
    taper = np.linspace(1.0, 0.35, steps)[None, :]
    radius = radius_mm * np.exp(rng.normal(0.0, 0.15, (count, 1))) * taper
    return Strands(points_mm=points, radius_mm=radius)


def waving(points: Array, size_mm: float, rng: np.random.Generator) -> Array:
    """A vector (N, 3) that changes slowly with the place, about one in size."""
    total = np.zeros_like(points)
    for _ in range(4):
        total += np.sin(points @ rng.normal(0, 1 / size_mm, (3, 3)) + rng.uniform(0, 6.283, 3))
    return total / 2.0


def knot(head: Head, count: int, radius_mm: float, rng: np.random.Generator) -> Strands:
    """The knot that tied hair ends in: strands wound about a ball."""
    middle, size = np.array([0.0, 46.0, -196.0]), 33.0
    angle = np.linspace(0.0, 1.6 * np.pi, 18)[None, :]
    tall = rng.uniform(-0.95, 0.95, (count, 1))
    start = rng.uniform(0, 6.283, (count, 1))
    lean = 0.35 * np.sin(start)
    flat = np.sqrt(1.0 - tall**2) * size * rng.uniform(0.86, 1.05, (count, 1))
    points = np.stack(
        [
            flat * np.cos(start + angle),
            size * tall + lean * flat * np.sin(start + angle),
            0.85 * flat * np.sin(start + angle),
        ],
        axis=-1,
    )
    return Strands(points_mm=middle + points, radius_mm=np.full(points.shape[:2], radius_mm))


def thinned(strands: Strands, share: float) -> Strands:
    """Every so-manieth strand, thicker, for a quick look."""
    step = max(round(1.0 / share), 1)
    return replace(
        strands, points_mm=strands.points_mm[::step],
        radius_mm=strands.radius_mm[::step] * step**0.6,
    )  # fmt: skip
