"""Brows, lashes and beards of the invented sitters; head frame, millimetres, neutral pose."""

import numpy as np
from numpy.typing import NDArray

from builders.sitters.hair import UP, Ground, Strands, finished, roots, unit, waving
from builders.traced.faces import soft_region
from builders.traced.skin import BEARD_REGIONS
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head

Array = NDArray[np.float64]


def grow_brows(head: Head, count: int, rng: np.random.Generator) -> Strands:
    """Brows: hairs that lie outward, those of the lower edge upward and of the upper downward."""
    spots, normals = roots(head, soft_region(("BROW",), 0), count, rng)
    middle = {1.0: head.point("brow_own_left"), -1.0: head.point("brow_own_right")}
    sign = np.sign(spots[:, 0])
    centre = np.where(sign[:, None] > 0, middle[1.0], middle[-1.0])
    inner = np.clip(1.0 - (np.abs(spots[:, 0]) - 12.0) / 16.0, 0.0, 1.0)
    toward = np.clip((centre[:, 1] - spots[:, 1]) / 5.0, -1.0, 1.0)
    way = np.stack(
        [sign * (1.0 - 0.75 * inner), 0.55 * toward + 1.0 * inner, np.zeros(len(sign))], 1
    )
    way = unit(way) + 0.30 * normals + rng.normal(0.0, 0.16, spots.shape)
    length = rng.uniform(4.5, 8.5, len(spots)) * (1.0 - 0.25 * inner)
    return _short(head, spots, normals, unit(way), length, 0.052, -0.25, rng)


def grow_beard(head: Head, count: int, length_mm: float, rng: np.random.Generator) -> Strands:
    """A beard and moustache of a length; a few mm are stubble."""
    share = soft_region(BEARD_REGIONS, 1) * (1.0 - soft_region(("LIP_", "NECK", "NOSE"), 0))
    cheek = soft_region(("CHEEK",), 0) * (head.vertices_mm[:, 1] < -62.0 - 0.25 * np.minimum(
        head.vertices_mm[:, 2] + 20.0, 0.0)) * (head.vertices_mm[:, 2] < 5.0)  # fmt: skip
    share = np.clip(share + 0.8 * cheek, 0.0, 1.0)
    spots, normals = roots(head, share, count, rng)
    side = np.sign(spots[:, :1]) * (np.abs(spots[:, :1]) > 2.0)
    lip = (spots[:, 1] > -72.0) & (np.abs(spots[:, 0]) < 30.0)
    way = np.where(lip[:, None], 0.8 * side * [1.0, 0.0, 0.0], 0.0) + np.array([0.0, -0.9, 0.12])
    way = unit(way + (0.9 if length_mm < 12 else 0.6) * normals + 0.2 * waving(spots, 15.0, rng)
               + rng.normal(0.0, 0.25, spots.shape))  # fmt: skip
    length = length_mm * rng.uniform(0.5, 1.1, len(spots))
    length[lip] = np.minimum(length[lip], 11.0)
    return _short(head, spots, normals, way, length, 0.05, -0.35, rng)


def _short(
    head: Head, spots: Array, normals: Array, way: Array, length: Array, radius_mm: float,
    drop: float, rng: np.random.Generator,
) -> Strands:  # fmt: skip
    """Short hairs that bend a little and stay outside the skin."""
    steps = 6
    share = np.linspace(0.0, 1.0, steps)
    bend = rng.normal(0.0, 0.2, spots.shape) + drop * UP * np.sign(-drop) * -1.0
    line = spots - 0.3 * normals
    points = np.stack(
        [line + length[:, None] * (s * way + 0.5 * s * s * bend) for s in share], axis=1
    )
    return finished(Ground(head), points, radius_mm, rng)


def grow_lashes(head: Head, rng: np.random.Generator) -> Strands:
    """Lashes along the lids' edges, curved up above and down below."""
    groups, steps = [], 8
    for side in SIDES:
        centre = np.asarray(head.eye_centre_mm[side], dtype=float)
        for lid, up, length_mm, count in (("UPPER", 1.0, 8.5, 110), ("LOWER", -1.0, 5.0, 60)):
            edge = _lid_edge(head, side, lid)
            along = np.argsort(edge[:, 0])
            line = edge[along]
            at = np.sort(rng.uniform(0.04, 0.97, count)) * (len(line) - 1)
            low = np.minimum(at.astype(int), len(line) - 2)
            part = (at - low)[:, None]
            root = line[low] * (1 - part) + line[low + 1] * part
            out = unit(root - centre)
            outer = np.abs(root[:, 0]) / np.abs(centre[0]) - 1.0
            fan = np.sign(centre[0]) * np.stack([1.6 * outer, 0 * outer, 0 * outer], 1)
            way = unit(out + 0.9 * fan + [0.0, -0.25 * up, 0.45] + rng.normal(0, 0.1, root.shape))
            size = length_mm * rng.uniform(0.6, 1.05, count) * (0.75 + 0.5 * np.clip(outer, 0, 0.5))
            share = np.linspace(0.0, 1.0, steps)
            points = np.stack(
                [
                    root + 0.5 * out
                    + size[:, None] * (s * way + 0.75 * up * s * s * UP) / 1.25
                    for s in share
                ],
                axis=1,
            )  # fmt: skip
            thick = 0.055 if up > 0 else 0.04
            groups.append((points, thick * np.linspace(1.0, 0.2, steps)))
    return Strands(
        points_mm=np.concatenate([points for points, _ in groups]),
        radius_mm=np.concatenate([np.tile(thick, (len(points), 1)) for points, thick in groups]),
    )


def _lid_edge(head: Head, side: str, lid: str) -> Array:
    """Corners (N, 3) of a lid's edge at the eyeball."""
    vertices, centre = head.vertices_mm.astype(np.float64), head.eye_centre_mm[side]
    region = head.region_of_triangle
    own = np.unique(head.triangles[region == Region[f"LID_{lid}_{side.upper()}"]])
    gap = np.linalg.norm(vertices[own] - centre, axis=1) - head.eye_radius_mm
    ahead = vertices[own, 2] > centre[2] + 0.45 * head.eye_radius_mm
    edge = own[(gap < 1.15) & ahead]
    slit = 0.5 * (head.point(f"lid_upper_{side}")[1] + head.point(f"lid_lower_{side}")[1])
    sign = 1.0 if lid == "UPPER" else -1.0
    order = edge[np.argsort(vertices[edge, 0])]
    # of each stretch along the lid, the corner nearest the slit
    bins = np.linspace(vertices[order, 0].min(), vertices[order, 0].max() + 1e-6, 12)
    place = np.digitize(vertices[order, 0], bins)
    chosen = [
        own_bin[np.argmin(sign * (vertices[own_bin, 1] - slit))]
        for k in np.unique(place)
        if len(own_bin := order[place == k])
    ]
    return vertices[chosen]
