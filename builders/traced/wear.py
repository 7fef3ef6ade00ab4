"""What the sitters of ``faces.py`` wear over their faces: hair, beards, glasses and hats."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builders.traced.hair import Curves, bun, draw_style, grow_beard, grow_hair
from builders.traced.skin import Look, corner_normals
from builders.traced.studio import coloured_mesh, glossy, into_camera
from sitwell.head.pose import HeadPose
from sitwell.head.surface import SIDES, Head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
_MIRROR = 0.07  # of the light that a lens throws back
_ROUND = 10  # corners of a tube's cross-section


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A mesh in the head frame, of one colour (3,) or one a point (N, 3); lenses are ``clear``."""

    points_mm: Array
    triangles: NDArray[np.int64]
    colour: Array
    clear: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """What a sitter wears, by name; ``style`` is the hair's."""

    style: str
    solids: Mapping[str, Solid]

    def parts(self, pose: HeadPose) -> dict[str, Any]:
        """All of it as Mitsuba's parts, in the camera frame."""
        parts = {}
        for name, solid in self.solids.items():
            parts[name] = coloured_mesh(
                into_camera(solid.points_mm, pose), solid.triangles,
                np.broadcast_to(solid.colour, solid.points_mm.shape),
                _lens() if solid.clear else {"type": "twosided", "bsdf": glossy(0.35)},
            )  # fmt: skip
        return parts


def _lens() -> dict[str, Any]:
    mirror = {"type": "twosided", "bsdf": {"type": "conductor"}}
    return {"type": "mask", "opacity": _MIRROR, "bsdf": mirror}


def draw_wear(head: Head, look: Look, rng: np.random.Generator) -> Wear:
    """Hair of a style, sometimes a beard, glasses or a hat."""
    style = draw_style(rng)
    hat, edge_mm = rng.random() < 0.12, draw_hat_edge(head, rng)
    solids = draw_hat(head, edge_mm, rng) if hat else {}
    if rng.random() < 0.3:
        solids |= draw_glasses(head, rng)
    flat = hat and style.way in ("out", "ahead", "bun", "back")
    if not look.bald and style.name != "cropped" and not flat:
        bare = np.where(hat & (head.vertices_mm[:, 1] > edge_mm - 6.0), 0.0, 1.0)
        fringe = style.way in ("parted", "ahead") and not hat and rng.random() < 0.35
        hair = grow_hair(head, style, bare, rng, fringe=fringe)
        solids["hair"] = strands(hair, look.hair, rng)
        if style.name == "bun":
            middle, radius = bun(head)
            solids["hair_bun"] = _ball(middle, radius, look.hair)
    if rng.random() < 0.22:
        solids["beard"] = strands(grow_beard(head, rng), look.hair, rng)
    return Wear(style="bald" if look.bald else style.name, solids=solids)


def strands(curves: Curves, tint: Array, rng: np.random.Generator) -> Solid:
    """Each hair as a thin prism of three sides, a little darker or lighter than the next."""
    line = curves.points_mm
    count, steps, _ = line.shape
    along = np.gradient(line, axis=1)
    first = np.cross(along, rng.normal(size=(count, 1, 3)))
    first /= np.maximum(np.linalg.norm(first, axis=2, keepdims=True), 1e-9)
    second = np.cross(along, first)
    second /= np.maximum(np.linalg.norm(second, axis=2, keepdims=True), 1e-9)
    thin = curves.radius_mm * np.linspace(1.0, 0.4, steps)[None, :, None]
    angles = np.radians([0.0, 120.0, 240.0])
    sides = [line + thin * (np.cos(a) * first + np.sin(a) * second) for a in angles]
    points = np.stack(sides, axis=2).reshape(-1, 3)
    index = np.arange(len(points)).reshape(count, steps, 3)
    here, ahead = index[:, :-1].reshape(-1, 3), index[:, 1:].reshape(-1, 3)
    beside, across = np.roll(here, -1, axis=1), np.roll(ahead, -1, axis=1)
    triangles = [np.stack(t, axis=2).reshape(-1, 3) for t in
                 ((here, ahead, beside), (beside, ahead, across))]  # fmt: skip
    shades = np.repeat(np.exp(rng.normal(0.0, 0.25, count)), 3 * steps)
    return Solid(
        points_mm=points,
        triangles=np.concatenate(triangles),
        colour=np.clip(shades[:, None] * tint, 0.003, 0.9),
    )


def draw_glasses(head: Head, rng: np.random.Generator) -> dict[str, Solid]:
    """A frame of tubes, thin clear lenses and two temples that rest on the ears."""
    scale = head.eye_radius_mm / load_template().eye_radius_mm
    wide, tall = rng.uniform(21, 27) * scale, rng.uniform(14, 21) * scale
    corner, thick = rng.uniform(2.0, 4.0), float(np.exp(rng.uniform(np.log(0.5), np.log(2.2))))
    tint = np.exp(rng.uniform(np.log(0.01), np.log(0.5))) * rng.uniform(0.4, 1.0, 3)
    eyes = {side: np.asarray(head.eye_centre_mm[side], dtype=float) for side in SIDES}
    out_mm = (head.eye_radius_mm + rng.uniform(11, 15)) * np.array([0.0, 0.0, 1.0])
    down = np.array([0.0, -rng.uniform(1.0, 6.0), 0.0])
    angle = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    x, y = (np.sign(f) * np.abs(f) ** (2.0 / corner) for f in (np.cos(angle), np.sin(angle)))
    solids, inner = {}, []
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        across, up = np.array([sign, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
        middle = eyes[side] + out_mm + down + 1.5 * across
        rim = middle + np.stack([wide * x, tall * y, -np.abs(wide * x) * 0.06], axis=1)
        solids[f"glasses_rim_{side}"] = tube(rim, thick, tint, closed=True)
        solids[f"glasses_lens_{side}"] = _fan(middle, rim)
        inner.append(middle - wide * across + 0.25 * tall * up)
        hinge = middle + wide * across + 0.35 * tall * up - np.array([0.0, 0.0, 2.0])
        ear = head.point(f"ear_top_{side}") - 4.0 * across + np.array([0.0, -2.0, 8.0])
        end = ear - 2.0 * across - np.array([0.0, 22.0, 16.0])
        bow = np.stack([hinge, 0.5 * (hinge + ear) + 2.0 * across, ear, end])
        solids[f"glasses_bow_{side}"] = tube(bow, max(thick, 0.9), tint)
    bridge = np.stack([inner[0], (inner[0] + inner[1]) / 2 + np.array([0, 2.0, 1.0]), inner[1]])
    solids["glasses_bridge"] = tube(bridge, thick, tint)
    return solids


def draw_hat_edge(head: Head, rng: np.random.Generator) -> Array:
    """The height (V,) above which a hat covers the head: higher before than behind."""
    front_mm, back_mm = rng.uniform(32, 58), rng.uniform(5, 25)
    return np.asarray(back_mm + (front_mm - back_mm) * (head.vertices_mm[:, 2] + 165.0) / 170.0)


def draw_hat(head: Head, edge: Array, rng: np.random.Generator) -> dict[str, Solid]:
    """A cap over the skull with a rolled edge, or with a brim all round."""
    template, vertices = load_template(), head.vertices_mm.astype(np.float64)
    above = vertices[:, 1] > edge
    cap = template.triangles[above[template.triangles].all(axis=1)].astype(np.int64)
    used, corners = np.unique(cap, return_inverse=True)
    normals = corner_normals(vertices, template.triangles)[used]
    places = vertices[used] + rng.uniform(5, 9) * normals
    tint = np.exp(rng.uniform(np.log(0.02), np.log(0.5))) * rng.uniform(0.3, 1.0, 3)
    solids = {"hat": Solid(points_mm=places, triangles=corners.reshape(-1, 3), colour=tint)}
    rim = _rim(places, edge[used])
    if rng.random() < 0.5:
        solids["hat_roll"] = tube(rim, rng.uniform(5, 9), tint, closed=True)
    else:
        solids["hat_brim"] = _brim(rim, rng.uniform(45, 80), tint)
    return solids


def _rim(places: Array, edge: Array) -> Array:
    """The hat's lower edge (36, 3), round the head."""
    low = places[places[:, 1] < edge + 14.0]
    middle = low.mean(axis=0)
    around = np.arctan2(low[:, 0] - middle[0], low[:, 2] - middle[2])
    angles = np.linspace(-np.pi, np.pi, 36, endpoint=False)
    near = np.abs(np.angle(np.exp(1j * (angles[:, None] - around[None, :]))))
    weight = np.exp(-0.5 * (near / 0.18) ** 2)
    ring = weight @ low / weight.sum(axis=1, keepdims=True)
    return np.asarray(middle + (ring - middle) * (1.05, 1.0, 1.05))


def _brim(rim: Array, wide_mm: float, tint: Array) -> Solid:
    middle = rim.mean(axis=0)
    away = (rim - middle) * (1.0, 0.0, 1.0)
    away /= np.linalg.norm(away, axis=1, keepdims=True)
    outer = rim + wide_mm * away + (0.0, -0.08 * wide_mm, 0.0)
    count = len(rim)
    here = np.arange(count)
    step = np.roll(here, -1)
    triangles = np.concatenate(
        [np.stack([here, here + count, step], 1), np.stack([step, here + count, step + count], 1)]
    )
    return Solid(
        points_mm=np.vstack([rim * (0.97, 1.0, 0.97), outer]), triangles=triangles, colour=tint
    )


def tube(line: Array, radius_mm: float, tint: Array, *, closed: bool = False) -> Solid:
    """A tube along a line of points (N, 3)."""
    ends = (np.roll(line, -1, axis=0), np.roll(line, 1, axis=0)) if closed else (
        np.vstack([line[1:], line[-1:]]), np.vstack([line[:1], line[:-1]])
    )  # fmt: skip
    along = ends[0] - ends[1]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    steady = np.array([0.13, 0.21, 0.97]) if abs(along[0, 2]) < 0.8 else np.array([0.1, 1.0, 0.2])
    first = np.cross(along, steady)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(along, first)
    angle = np.linspace(0.0, 2.0 * np.pi, _ROUND, endpoint=False)
    ring = (
        np.cos(angle)[None, :, None] * first[:, None]
        + np.sin(angle)[None, :, None] * second[:, None]
    )
    points = (line[:, None] + radius_mm * ring).reshape(-1, 3)
    rows = np.arange(len(line) if closed else len(line) - 1)
    here = (rows[:, None] * _ROUND + np.arange(_ROUND)).ravel()
    beside = (rows[:, None] * _ROUND + (np.arange(_ROUND) + 1) % _ROUND).ravel()
    size = len(points)
    ahead, across = (here + _ROUND) % size, (beside + _ROUND) % size
    triangles = np.concatenate(
        [np.stack([here, ahead, beside], 1), np.stack([beside, ahead, across], 1)]
    )
    return Solid(points_mm=points, triangles=triangles, colour=tint)


def _fan(middle: Array, rim: Array) -> Solid:
    count = len(rim)
    here = np.arange(1, count + 1)
    triangles = np.stack([np.zeros(count, int), here, np.roll(here, -1)], axis=1)
    return Solid(
        points_mm=np.vstack([middle, rim]), triangles=triangles, colour=np.ones(3), clear=True
    )


def _ball(middle: Array, radius_mm: float, tint: Array) -> Solid:
    up, around = np.meshgrid(np.linspace(0, np.pi, 17), np.linspace(0, 2 * np.pi, 32, False))
    points = np.stack([np.sin(up) * np.cos(around), np.cos(up), np.sin(up) * np.sin(around)], -1)
    index = np.arange(32 * 17).reshape(32, 17)
    a, b = index[:, :-1].ravel(), np.roll(index, -1, axis=0)[:, :-1].ravel()
    triangles = np.concatenate([np.stack([a, b, a + 1], 1), np.stack([b, b + 1, a + 1], 1)])
    return Solid(
        points_mm=middle + radius_mm * points.reshape(-1, 3), triangles=triangles, colour=tint
    )
