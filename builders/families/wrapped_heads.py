"""Faces of a second family of heads: principal components of scans of real people.

The arrays (the ICT Face Model Light, credited in NOTICE) are read from a path and copied nowhere.
The family's mean is wrapped in our own mesh once: our mean head is bent onto it, and each of our
vertices then goes with the spot of its surface that it came to lie on, so that what is true of such
a face can be measured as of any head of ours.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator
from scipy.sparse import coo_matrix, csr_matrix, diags, identity
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

from builders.traced.faces import Face, lids_outside, with_vertices
from sitwell.head.facing import vertex_normals
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head, build_head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
MM_PER_CM = 10.0
# Vertices and polygons of the source that make its outer skin, and its eyes' whites and irises.
_SKIN_VERTICES, _SKIN_POLYGONS = 11248, 11144
_WHITES = {"own_left": slice(21451, 22221), "own_right": slice(23021, 23791)}
_IRISES = {"own_left": slice(22221, 23021), "own_right": slice(23791, 24591)}
# The usual 68 landmarks: which of ours each of some is, and the source's vertices of all.
_TIES = {
    8: 152, 17: 70, 19: 105, 21: 107, 22: 336, 24: 334, 26: 300, 27: 168, 30: 4, 33: 2,
    36: 33, 37: 160, 38: 158, 39: 133, 40: 153, 41: 144, 42: 362, 43: 385, 44: 387, 45: 263,
    46: 373, 47: 380, 48: 61, 51: 0, 54: 291, 57: 17,
}  # fmt: skip
_LANDMARKS = (
    1225, 1888, 1052, 367, 1719, 1722, 2199, 1447, 966, 3661, 4390, 3927, 3924, 2608, 3272, 4088,
    3443, 268, 493, 1914, 2044, 1401, 3615, 4240, 4114, 2734, 2509, 978, 4527, 4942, 4857, 1140,
    2075, 1147, 4269, 3360, 1507, 1542, 1537, 1528, 1518, 1511, 3742, 3751, 3756, 3721, 3725, 3732,
    5708, 5695, 2081, 0, 4275, 6200, 6213, 6346, 6461, 5518,
)  # fmt: skip
# The ear's points on the source's own left ear, found by eye; its other ear is the mirror image.
_EAR = {"ear_top": 6844, "ear_outer": 6892, "ear_lobe": 7123, "tragus": 7321}
_NOT_WRAPPED = ("SOCKET", "WHITE", "IRIS", "NOSTRIL")
_STIFF = (300.0, 100.0, 30.0, 10.0, 3.0, 1.0, 0.4)  # how stiffly our mesh bends, round by round
_REACH_MM, _ALIKE = (18.0, 5.0), 0.4  # farthest spot that a vertex may go to, first and last round
_COMPONENTS, _MOST = 65, 2.5  # of identity: as many hold 99 % of the variance; sigmas at most
# What a face may do, as the source names it; names and amounts are those of other_faces.PULLED.
_PULLS: Mapping[str, Mapping[str, float]] = {
    "smile": {"mouthSmile": 0.8, "cheekSquint": 0.4},
    "blink": {"eyeBlink": 0.8},
    "squint": {"eyeSquint": 1.0},
    "brows": {"browInnerUp": 0.7, "browOuterUp": 0.7},
    "talk": {"jawOpen": 0.3},
    "pressed": {"mouthPress": 1.0},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """The second family in our mesh, in mm: ``mean`` (V, 3), ``modes`` (C, V, 3) by sigma.

    ``eyes`` (1 + C, 2, 3) are the eyeballs' centres of mean and modes, own left first.
    """

    mean: Head
    modes: Array
    eyes: Array
    pulls: Mapping[str, Array]


def second_faces(path: Path, count: int, seed: int) -> list[Face]:
    """The first ``count`` faces of a seed; each has a generator of its own."""
    family = read_family(path)
    return [_drawn(family, np.random.default_rng((seed, index))) for index in range(count)]


def _drawn(family: Family, rng: np.random.Generator) -> Face:
    weights = np.clip(rng.normal(size=len(family.modes)), -_MOST, _MOST)
    vertices = family.mean.vertices_mm + np.tensordot(weights, family.modes, 1)
    eyes = family.eyes[0] + np.tensordot(weights, family.eyes[1:], 1)
    moved = eyes - family.eyes[0]
    for side, move in zip(SIDES, moved, strict=True):
        vertices[load_template().eyeball_vertices[side]] += move
    middle = eyes.mean(axis=0)
    head = dataclasses.replace(
        family.mean,
        eye_centre_mm={
            side: (eye - middle).astype(np.float32) for side, eye in zip(SIDES, eyes, strict=True)
        },
    )
    head = with_vertices(head, lids_outside(head, vertices - middle))
    return Face(head=head, female_share=0.5, old_share=0.5, pulls_mm=family.pulls)


@cache
def read_family(path: Path) -> Family:
    """Read the arrays and wrap the mean."""
    with np.load(path) as source:
        mean_mm = MM_PER_CM * source["mean_cm"].astype(np.float64)
        polygons = source["polygons"][:_SKIN_POLYGONS].astype(np.int64)
        modes_mm = MM_PER_CM * source["identity_cm"][:_COMPONENTS].astype(np.float64)
        names = [str(name) for name in source["expression_names"]]
        moves_mm = MM_PER_CM * source["expression_cm"].astype(np.float64)
    balls = [_ball(mean_mm[_WHITES[side]], mean_mm[_IRISES[side]]) for side in SIDES]
    middle = np.mean([centre for centre, _ in balls], axis=0)
    centres = np.stack([centre - middle for centre, _ in balls])
    skin_mm, triangles = mean_mm[:_SKIN_VERTICES] - middle, _triangles(polygons)
    radius_mm = float(np.mean([radius for _, radius in balls]))
    spots, wrapped = _wrapped(skin_mm, triangles, mean_mm - middle, centres, radius_mm)
    eyes = np.stack([[mode[_WHITES[side]].mean(axis=0) for side in SIDES] for mode in modes_mm])

    def carried(moves: Array) -> Array:
        return np.asarray(spots @ moves[:_SKIN_VERTICES])

    return Family(
        mean=wrapped,
        modes=np.stack([carried(mode) for mode in modes_mm]),
        eyes=np.concatenate([centres[None], eyes]),
        pulls={name: carried(_pull(names, moves_mm, units)) for name, units in _PULLS.items()},
    )


def _pull(names: Sequence[str], moves_mm: Array, units: Mapping[str, float]) -> Array:
    """What some units do together, each on both sides."""
    amounts = [units.get(name.removesuffix("_L").removesuffix("_R"), 0.0) for name in names]
    return np.asarray(np.tensordot(amounts, moves_mm, 1))


def _ball(points: Array, iris: Array) -> tuple[Array, float]:
    """Centre (3,) and radius of the sphere through points (N, 3), straight behind the iris."""
    rows = np.hstack([2.0 * points, np.ones((len(points), 1))])
    found = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(found[3] + found[:3] @ found[:3]))
    return np.r_[iris[:, :2].mean(axis=0), found[2]], radius


def _triangles(polygons: Ints) -> Ints:
    quads = polygons[polygons[:, 3] >= 0]
    return np.vstack([polygons[:, :3], quads[:, [0, 2, 3]]])


def _wrapped(
    skin_mm: Array, triangles: Ints, source_mm: Array, centres: Array, radius_mm: float
) -> tuple[csr_matrix, Head]:
    """The spots (V, skin vertices) that our vertices go with, and the mean as a head of ours."""
    template, ours = load_template(), build_head()
    start = ours.vertices_mm.astype(np.float64)
    names = [Region(region).name for region in range(len(Region))]
    bad = np.array([name.startswith(_NOT_WRAPPED) for name in names])[ours.region_of_triangle]
    free = np.ones(len(start), dtype=bool)
    free[np.unique(ours.triangles[bad])] = False
    anchors = [template.landmark_triangle[number] for number in _TIES.values()]
    corners = start[ours.triangles[anchors]]
    weights = template.landmark_weights[list(_TIES.values())]
    tied = np.einsum("nc,nca->na", weights, corners)
    goal = source_mm[[_LANDMARKS[number] for number in _TIES]]
    ears = np.array([ours.point(f"{name}_{side}") for side in SIDES for name in _EAR])
    own_left = skin_mm[list(_EAR.values())]
    tied = np.vstack([tied, ears])
    goal = np.vstack([goal, own_left, own_left * (-1.0, 1.0, 1.0)])
    vertices = np.asarray(RBFInterpolator(tied, goal, smoothing=4.0, degree=1)(start))
    smooth = _laplacian(ours.triangles, len(start))
    normals = vertex_normals(skin_mm, triangles)
    tree, touching = cKDTree(skin_mm), _touching(triangles, len(skin_mm))
    for stiff, reach_mm in zip(_STIFF, np.linspace(*_REACH_MM, len(_STIFF)), strict=True):
        for _ in range(3):
            _, there = _nearest(vertices, skin_mm, triangles, touching, tree)
            own = vertex_normals(vertices, ours.triangles)
            alike = (own * normals[tree.query(there)[1]]).sum(axis=1) > _ALIKE
            near = np.linalg.norm(there - vertices, axis=1) < reach_mm
            pull = (free & alike & near).astype(float)
            system = (stiff * smooth.T @ smooth + diags(pull + 1e-4)).tocsc()
            vertices = vertices + splu(system).solve(pull[:, None] * (there - vertices))
    for side, centre in zip(SIDES, centres, strict=True):
        ball = template.eyeball_vertices[side]
        outward = start[ball] - ours.eye_centre_mm[side]
        outward /= np.linalg.norm(outward, axis=1, keepdims=True)
        vertices[ball] = centre + radius_mm * outward
    spots, _ = _nearest(vertices, skin_mm, triangles, touching, tree)
    for side in SIDES:  # eyeballs go with their own centres
        spots = _without(spots, template.eyeball_vertices[side])
    head = dataclasses.replace(
        ours,
        eye_radius_mm=radius_mm,
        eye_centre_mm={
            side: centre.astype(np.float32) for side, centre in zip(SIDES, centres, strict=True)
        },
    )
    return spots, with_vertices(head, lids_outside(head, vertices))


def _laplacian(triangles: NDArray[np.int32], count: int) -> csr_matrix:
    """Each vertex less the mean of its neighbours."""
    pairs = np.vstack([triangles[:, [a, b]] for a, b in ((0, 1), (1, 2), (2, 0))])
    both = np.vstack([pairs, pairs[:, ::-1]])
    joined = coo_matrix((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(count, count))
    joined = (joined.tocsr() > 0).astype(float)
    degree = np.maximum(np.asarray(joined.sum(axis=1)).ravel(), 1.0)
    return csr_matrix(identity(count) - diags(1.0 / degree) @ joined)


def _nearest(
    points: Array, skin_mm: Array, triangles: Ints, touching: Ints, tree: cKDTree
) -> tuple[csr_matrix, Array]:
    """The nearest spot of a surface to each point: its weights (N, V), and where it lies (N, 3)."""
    best = np.full(len(points), np.inf)
    chosen = np.zeros((len(points), 3), dtype=np.int64)
    shares = np.zeros((len(points), 3))
    for vertex in tree.query(points, k=3)[1].T:
        for candidate in touching[vertex].T:
            corners = triangles[candidate]
            weight = _barycentric(points, skin_mm[corners])
            there = np.einsum("nc,nca->na", weight, skin_mm[corners])
            away = np.linalg.norm(there - points, axis=1)
            nearer = away < best
            best[nearer], chosen[nearer] = away[nearer], corners[nearer]
            shares[nearer] = weight[nearer]
    rows = np.repeat(np.arange(len(points)), 3)
    spots = csr_matrix((shares.ravel(), (rows, chosen.ravel())), shape=(len(points), len(skin_mm)))
    return spots, np.asarray(spots @ skin_mm)


def _touching(triangles: Ints, count: int) -> Ints:
    """The triangles (V, most) about each vertex, the last one repeated."""
    lists: list[list[int]] = [[] for _ in range(count)]
    for number, corners in enumerate(triangles.tolist()):
        for corner in corners:
            lists[corner].append(number)
    most = max(map(len, lists))
    filled = [own or [0] for own in lists]
    return np.array([own + own[-1:] * (most - len(own)) for own in filled])


def _barycentric(points: Array, corners: Array) -> Array:
    """Weights (N, 3) of the corners (N, 3, 3) at the spot of each triangle nearest to a point.

    Beyond an edge the weights are cut off at 0, which is near enough to the nearest spot.
    """
    a, b, c = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    to = points - a
    bb, bc, cc = ((x * y).sum(axis=1) for x, y in ((b, b), (b, c), (c, c)))
    tb, tc = (to * b).sum(axis=1), (to * c).sum(axis=1)
    area = np.maximum(bb * cc - bc**2, 1e-12)
    v, w = (cc * tb - bc * tc) / area, (bb * tc - bc * tb) / area
    weights = np.clip(np.stack([1.0 - v - w, v, w], axis=1), 0.0, None)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _without(spots: csr_matrix, rows: NDArray[np.integer]) -> csr_matrix:
    kept = np.ones(spots.shape[0])
    kept[rows] = 0.0
    return csr_matrix(diags(kept) @ spots)
