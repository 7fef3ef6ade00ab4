"""What the measures need to know of a head, worked out once: index sets, points, slices.

Everything is in the head frame, millimetres. Sets are named for what is read from them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.regions import EYE, FACE, NOSE, Region
from sitwell.head.surface import SIDES, Head
from sitwell.scene.gaze import Eye, find_eyes
from sitwell.scene.posture import follow_weights

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

RIDGE_POINTS = ("nose_ridge_1", "nose_ridge_2", "nose_ridge_3", "nose_ridge_4", "nose_ridge_5")
EYE_WINDOW_MM = (26.0, 20.0)  # half width and height around an eye of what may hide it
BEHIND_MM = 15.0  # a turned cheek's outline never lies farther behind the cheekbones
EYE_REGIONS = tuple(
    (Region[f"WHITE_{side.upper()}"], Region[f"IRIS_{side.upper()}"]) for side in SIDES
)
NOSTRILS = (Region.NOSTRIL_OWN_LEFT, Region.NOSTRIL_OWN_RIGHT)
EARS = (Region.EAR_OWN_LEFT, Region.EAR_OWN_RIGHT)
OUTLINE = frozenset(
    {
        Region.SCALP,
        Region.FOREHEAD,
        Region.TEMPLE_OWN_LEFT,
        Region.TEMPLE_OWN_RIGHT,
        Region.BROW_OWN_LEFT,
        Region.BROW_OWN_RIGHT,
        Region.CHEEK_OWN_LEFT,
        Region.CHEEK_OWN_RIGHT,
        Region.JAW_OWN_LEFT,
        Region.JAW_OWN_RIGHT,
        Region.CHIN,
    }
)
UNLIT = frozenset({Region.SOCKET, Region.SCALP, Region.NECK})
SHADOW_CATCHERS = frozenset(
    {
        Region.CHEEK_OWN_LEFT,
        Region.CHEEK_OWN_RIGHT,
        Region.UPPER_LIP_SKIN,
        Region.LIP_UPPER,
        Region.LIP_LOWER,
        Region.CHIN,
        Region.JAW_OWN_LEFT,
        Region.JAW_OWN_RIGHT,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """Where a plane cuts the mesh: points ``share`` of the way from ``first`` to ``second``."""

    first: Ints
    second: Ints
    share: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Anatomy:
    """A head prepared for measuring; V vertices, T triangles, P named points.

    ``eye_chosen`` and ``nostril_chosen`` are the triangles that can show in or hide the eyes and
    nostrils. Edge sets are (E, 2) vertex pairs: ``outline_edges`` of the head without ears and
    nose, ``cheek_edges`` of the face without nose before the ears, ``ridge_edges`` of the nose's
    root and ridge. ``cheek_arcs`` are the two level slices through the cheekbones, own left
    first, from the cheekbone forward.
    """

    vertices_mm: Floats
    triangles: Ints
    region: NDArray[np.uint8]
    follow: Floats
    pivot_mm: Floats
    middle_mm: Floats
    framed_vertices: Ints
    drawn_triangles: Ints
    point_index: dict[str, int]
    point_corners: Ints
    point_weights: Floats
    eyes: tuple[Eye, Eye]
    eye_radius_mm: float
    eye_chosen: tuple[Ints, Ints]
    nostril_chosen: Ints
    nostril_vertices: Ints
    ear_vertices: tuple[Ints, Ints]
    crown_vertices: Ints
    nose_outline_vertices: Ints
    nose_tip_vertices: Ints
    iris_bottom: tuple[int, int]
    iris_triangles: dict[Region, Ints]
    outline_edges: Ints
    cheek_edges: Ints
    ridge_edges: Ints
    cheek_arcs: tuple[Slice, Slice]
    cheekbone_z_mm: float
    face_height_mm: float
    lit_triangles: Ints
    shadow_catchers: Ints
    eye_shaders: tuple[Ints, Ints]


def study(head: Head) -> Anatomy:
    """Prepare a head for measuring (tens of milliseconds)."""
    vertices = head.vertices_mm.astype(np.float64)
    triangles = np.ascontiguousarray(head.triangles, dtype=np.int32)
    region = np.ascontiguousarray(head.region_of_triangle, dtype=np.uint8)
    names = sorted(head.point_anchors)
    anchors = [head.point_anchors[name] for name in names]
    eyes = find_eyes(head)
    framed = _vertices_of(triangles, region, frozenset(Region) - {Region.NECK})
    chosen_left, chosen_right = (_around_eye(vertices, triangles, region, eye) for eye in eyes)
    cheekbones = [head.point(f"cheekbone_{side}").astype(np.float64) for side in SIDES]
    cheekbone_z = float(0.5 * (cheekbones[0][2] + cheekbones[1][2]))
    cheek_edges = _edges_of(triangles, region, OUTLINE - {Region.SCALP})
    return Anatomy(
        vertices_mm=vertices,
        triangles=triangles,
        region=region,
        follow=follow_weights(head),
        pivot_mm=head.neck_pivot_mm.astype(np.float64),
        middle_mm=0.5 * (vertices[framed].min(axis=0) + vertices[framed].max(axis=0)),
        framed_vertices=framed,
        drawn_triangles=_triangles_of(region, frozenset(Region) - {Region.SOCKET}),
        point_index={name: i for i, name in enumerate(names)},
        point_corners=triangles[[triangle for triangle, _ in anchors]],
        point_weights=np.array([weights for _, weights in anchors], dtype=np.float64),
        eyes=eyes,
        eye_radius_mm=head.eye_radius_mm,
        eye_chosen=(chosen_left, chosen_right),
        nostril_chosen=_triangles_of(region, NOSE | {Region.UPPER_LIP_SKIN}),
        nostril_vertices=_vertices_of(triangles, region, set(NOSTRILS)),
        ear_vertices=(
            _vertices_of(triangles, region, {EARS[0]}),
            _vertices_of(triangles, region, {EARS[1]}),
        ),
        crown_vertices=_vertices_of(triangles, region, {Region.SCALP, Region.FOREHEAD}),
        nose_outline_vertices=_vertices_of(
            triangles,
            region,
            NOSE - {Region.NOSE_ROOT, Region.NOSE_SIDE_OWN_LEFT, Region.NOSE_SIDE_OWN_RIGHT},
        ),
        nose_tip_vertices=_vertices_of(triangles, region, {Region.NOSE_TIP}),
        iris_bottom=(
            _lowest(vertices, triangles, region, Region.IRIS_OWN_LEFT),
            _lowest(vertices, triangles, region, Region.IRIS_OWN_RIGHT),
        ),
        iris_triangles={
            iris: _triangles_of(region, {iris})
            for iris in (Region.IRIS_OWN_LEFT, Region.IRIS_OWN_RIGHT)
        },
        outline_edges=_edges_of(triangles, region, OUTLINE),
        cheek_edges=cheek_edges[(vertices[cheek_edges, 2] > cheekbone_z - BEHIND_MM).all(axis=1)],
        ridge_edges=_edges_of(triangles, region, {Region.NOSE_ROOT, Region.NOSE_RIDGE}),
        cheek_arcs=(
            _cheek_arc(vertices, triangles, region, cheekbones[0], 1.0),
            _cheek_arc(vertices, triangles, region, cheekbones[1], -1.0),
        ),
        cheekbone_z_mm=cheekbone_z,
        face_height_mm=float(head.point("hairline")[1] - head.point("chin")[1]),
        lit_triangles=_triangles_of(region, frozenset(Region) - UNLIT),
        shadow_catchers=_triangles_of(region, SHADOW_CATCHERS),
        eye_shaders=(
            chosen_left[~_is_eye(region, chosen_left)],
            chosen_right[~_is_eye(region, chosen_right)],
        ),
    )


def _triangles_of(region: NDArray[np.uint8], wanted: frozenset[Region] | set[Region]) -> Ints:
    return np.flatnonzero(np.isin(region, list(wanted))).astype(np.int32)


def _vertices_of(
    triangles: Ints, region: NDArray[np.uint8], wanted: frozenset[Region] | set[Region]
) -> Ints:
    return np.unique(triangles[_triangles_of(region, wanted)]).astype(np.int32)


def _edges_of(
    triangles: Ints, region: NDArray[np.uint8], wanted: frozenset[Region] | set[Region]
) -> Ints:
    chosen = triangles[_triangles_of(region, wanted)]
    edges = np.sort(chosen[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    return np.ascontiguousarray(np.unique(edges, axis=0), dtype=np.int32)


def _around_eye(vertices: Floats, triangles: Ints, region: NDArray[np.uint8], eye: Eye) -> Ints:
    middles = vertices[triangles].mean(axis=1) - eye.centre_mm
    close = (np.abs(middles[:, :2]) < EYE_WINDOW_MM).all(axis=1) & (middles[:, 2] > 0.0)
    nose = np.isin(region, list(NOSE - set(NOSTRILS)))
    return np.flatnonzero((close | nose) & (region != Region.SOCKET)).astype(np.int32)


def _is_eye(region: NDArray[np.uint8], chosen: Ints) -> NDArray[np.bool_]:
    return np.isin(region[chosen], list(EYE))


def _lowest(vertices: Floats, triangles: Ints, region: NDArray[np.uint8], wanted: Region) -> int:
    candidates = _vertices_of(triangles, region, {wanted})
    return int(candidates[np.argmin(vertices[candidates, 1])])


def _cheek_arc(
    vertices: Floats,
    triangles: Ints,
    region: NDArray[np.uint8],
    cheekbone: Floats,
    side: float,
) -> Slice:
    """The level slice from the cheekbone forward, so that turning reveals the cheek's own outline.

    The cheekbone itself is part of it, as a point on the edge that the slice cuts nearest to it.
    """
    edges = _edges_of(triangles, region, FACE - NOSE)
    first, second = edges[:, 0], edges[:, 1]
    over = vertices[:, 1] - cheekbone[1]
    crossing = over[first] * over[second] < 0
    first, second = first[crossing], second[crossing]
    share = over[first] / (over[first] - over[second])
    points = vertices[first] + share[:, None] * (vertices[second] - vertices[first])
    behind_mm = cheekbone[2] - points[:, 2]
    kept = (side * points[:, 0] > 0.4 * abs(cheekbone[0])) & (behind_mm < 2.0)
    return Slice(first=first[kept], second=second[kept], share=share[kept])
