"""The surface that a likeness is drawn on: the head's finer mesh, its mouth closed by a plane.

The bag behind the lips is left out, and what the open mouth shows lies on a plane between them.
Vertices are those of ``refine``, then the plane's middle; places are the level head's, in mm.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from sitwell.head.regions import EAR, EYE, Region
from sitwell.head.surface import Head
from sitwell.head.template import load_template
from sitwell.scene.posture import follow_weights, move_vertices
from sitwell.scene.refine import Refinement

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]

LIPS = (Region.LIP_UPPER, Region.LIP_LOWER)
FADE_MM = 18.0  # over which the scalp passes into skin that stays where it is
ROOT_FADE = 0.3  # of the neck's way from its root: there it passes into the clothes
JAWS = (Region.NECK, Region.UNDER_JAW)


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """What all frames of one head share; N vertices, T triangles.

    ``follow`` (N,) is how far each goes with the skull, ``scalp`` (N,) how far it lies under hair
    (1 well behind the hairline, 0 on skin), ``of_neck``, ``of_eye`` and ``of_ear`` (N,) what each
    belongs to, ``of_head`` (T,) which triangles are not the neck's, ``solid`` (N,) 1 but for the
    neck's root.
    """

    triangles: Ints
    follow: Floats
    scalp: Floats
    of_neck: Flags
    of_eye: Flags
    of_ear: Flags
    of_head: Flags
    solid: Floats
    mouth: Ints


def body_of(head: Head, fine: Refinement) -> Body:
    """The surface of a level head whose finer mesh is ``fine``."""
    region = np.repeat(head.region_of_triangle, 4)
    bag = np.repeat(_mouth_bag(), 4)
    skull = fine.triangles[~bag]
    count = len(head.vertices_mm) + len(fine.ends)
    loop = _loop(fine.triangles[bag], skull)
    lid = np.column_stack([loop, np.full(len(loop), count)]).astype(np.int32)
    kept = np.concatenate([region[~bag], np.full(len(lid), Region.LIP_LOWER)])
    triangles = np.concatenate([skull, lid]).astype(np.int32)
    follow = _on_all(fine, follow_weights(head), loop)

    def of(*wanted: Region) -> Flags:
        chosen = np.zeros(count + 1, dtype=bool)
        chosen[triangles[np.isin(kept, wanted)]] = True
        return chosen

    neck = of(*JAWS)
    neck[triangles[~np.isin(kept, JAWS)]] = False
    return Body(
        triangles=np.ascontiguousarray(triangles),
        follow=follow,
        scalp=_on_all(fine, _scalp(head), loop),
        of_neck=neck,
        of_eye=of(*EYE),
        of_ear=of(*EAR),
        of_head=kept != Region.NECK,
        solid=np.clip(follow / ROOT_FADE, 0.0, 1.0),
        mouth=loop[:, 0],
    )


def with_mouth(body: Body, values: Floats) -> Floats:
    """Values (N, ...) of values (N - 1, ...), the mouth plane's middle as its edge's mean."""
    return np.concatenate([values, values[body.mouth].mean(axis=0, keepdims=True)])


def posed(body: Body, places: Floats, pivot: Floats, rotation: Floats, forward: float) -> Floats:
    """Places (N, 3) in the studio of a level head's places when it turns about its neck."""
    moved = np.empty_like(places)
    move_vertices(places, body.follow, pivot, rotation, forward, moved)
    return moved


def unposed_steps(body: Body, steps: Floats, rotation: Floats) -> Floats:
    """Steps (N, 3) of the level head's places that give these steps of the posed ones."""
    stay = (1.0 - body.follow)[:, None, None] * np.eye(3)
    ways = stay + body.follow[:, None, None] * rotation
    return np.asarray(np.linalg.solve(ways, steps[..., None])[..., 0])


def _on_all(fine: Refinement, values: Floats, loop: Ints) -> Floats:
    every = fine.spread(values[:, None])[:, 0]
    return np.append(every, every[loop[:, 0]].mean())


@cache
def _mouth_bag() -> Flags:
    """The template's triangles (T,) behind the lips."""
    template = load_template()
    triangles, region = template.triangles, template.region_of_triangle
    inner = region == Region.SOCKET
    links = triangles[inner][:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    count = len(template.vertices_mm)
    graph = coo_matrix((np.ones(len(links)), (links[:, 0], links[:, 1])), shape=(count, count))
    _, piece = connected_components(graph, directed=False)
    lips = piece[triangles[np.isin(region, LIPS)]]
    at_lips = np.intersect1d(piece[triangles[inner][:, 0]], lips)
    return np.asarray(inner & np.isin(piece[triangles[:, 0]], at_lips))


def _loop(bag: Ints, skull: Ints) -> Ints:
    """Edges (L, 2) between the lips and the bag, so that a plane of them faces ahead."""
    sides = bag[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2).astype(np.int64)
    others = skull[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2).astype(np.int64)
    many = int(max(bag.max(), skull.max())) + 1
    shared = np.isin(sides[:, 0] * many + sides[:, 1], others[:, 1] * many + others[:, 0])
    return sides[shared].astype(np.int32)


def _scalp(head: Head) -> Floats:
    """How far each of the head's vertices (V,) lies under hair, 0 to 1."""
    template = load_template()
    above = template.hairline_height_mm - head.hairline_mm
    share = np.clip(np.nan_to_num(above, nan=0.0) / FADE_MM, 0.0, 1.0)
    share[head.region_of_triangle != Region.SCALP] = 0.0
    count = len(head.vertices_mm)
    corners = head.triangles.ravel()
    sums = np.bincount(corners, weights=np.repeat(share, 3), minlength=count)
    times = np.bincount(corners, minlength=count)
    return np.asarray(sums / np.maximum(times, 1))
