"""What the measures need to know of a head, worked out once: index sets, points, slices.

Everything is in the head frame, millimetres. Sets are named for what is read from them.
"""

from collections.abc import Callable, Set
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sitwell.head.regions import EYE, FACE, NOSE, Region
from sitwell.head.surface import SIDES, Head
from sitwell.scene.gaze import Eye, find_eyes
from sitwell.scene.posture import follow_weights

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Side = TypeVar("Side")

RIDGE_POINTS = ("nose_ridge_1", "nose_ridge_2", "nose_ridge_3", "nose_ridge_4", "nose_ridge_5")
EYE_WINDOW_MM = (26.0, 20.0)  # half width and height around an eye of what may hide it
BEHIND_MM = 15.0  # a turned cheek's outline never lies farther behind the cheekbones
EYE_REGIONS = tuple(
    (Region[f"WHITE_{side.upper()}"], Region[f"IRIS_{side.upper()}"]) for side in SIDES
)
NOSTRILS = frozenset({Region.NOSTRIL_OWN_LEFT, Region.NOSTRIL_OWN_RIGHT})
NOSE_UPPER = frozenset({Region.NOSE_ROOT, Region.NOSE_SIDE_OWN_LEFT, Region.NOSE_SIDE_OWN_RIGHT})
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
    eye_chosen: tuple[Ints, Ints]
    nostril_chosen: Ints
    nostril_vertices: Ints
    ear_vertices: tuple[Ints, Ints]
    crown_vertices: Ints
    nose_outline_vertices: Ints
    nose_tip_vertices: Ints
    iris_bottom: tuple[int, int]
    iris_triangles: tuple[Ints, Ints]
    outline_edges: Ints
    cheek_edges: Ints
    ridge_edges: Ints
    cheek_arcs: tuple[Slice, Slice]
    face_height_mm: float
    lit_triangles: Ints
    shadow_catchers: Ints
    eye_shaders: tuple[Ints, Ints]


def study(head: Head) -> Anatomy:
    """Prepare a head for measuring (tens of milliseconds)."""
    paint = _Paint(head)
    vertices = paint.vertices
    names = sorted(head.point_anchors)
    anchors = [head.point_anchors[name] for name in names]
    framed = paint.vertices_of(frozenset(Region) - {Region.NECK})
    eyes = find_eyes(head)
    around_eyes = _around_eye(paint, eyes[0]), _around_eye(paint, eyes[1])
    cheekbones = _both(lambda side: head.point(f"cheekbone_{side}").astype(np.float64))
    cheekbone_z = float(0.5 * (cheekbones[0][2] + cheekbones[1][2]))
    return Anatomy(
        vertices_mm=vertices,
        triangles=paint.triangles,
        region=paint.region,
        follow=follow_weights(head),
        pivot_mm=head.neck_pivot_mm.astype(np.float64),
        middle_mm=0.5 * (vertices[framed].min(axis=0) + vertices[framed].max(axis=0)),
        framed_vertices=framed,
        drawn_triangles=paint.triangles_of(frozenset(Region) - {Region.SOCKET}),
        point_index={name: i for i, name in enumerate(names)},
        point_corners=paint.triangles[[triangle for triangle, _ in anchors]],
        point_weights=np.array([weights for _, weights in anchors], dtype=np.float64),
        eyes=eyes,
        eye_chosen=around_eyes,
        nostril_chosen=paint.triangles_of(NOSE | {Region.UPPER_LIP_SKIN}),
        nostril_vertices=paint.vertices_of(NOSTRILS),
        ear_vertices=_both(lambda side: paint.vertices_of({_sided("EAR", side)})),
        crown_vertices=paint.vertices_of({Region.SCALP, Region.FOREHEAD}),
        nose_outline_vertices=paint.vertices_of(NOSE - NOSE_UPPER),
        nose_tip_vertices=paint.vertices_of({Region.NOSE_TIP}),
        iris_bottom=_both(lambda side: paint.lowest(_sided("IRIS", side))),
        iris_triangles=_both(lambda side: paint.triangles_of({_sided("IRIS", side)})),
        outline_edges=paint.edges_of(OUTLINE),
        cheek_edges=_before(paint, OUTLINE - {Region.SCALP}, cheekbone_z - BEHIND_MM),
        ridge_edges=paint.edges_of({Region.NOSE_ROOT, Region.NOSE_RIDGE}),
        cheek_arcs=(
            _cheek_arc(paint, cheekbones[0], 1.0),
            _cheek_arc(paint, cheekbones[1], -1.0),
        ),
        face_height_mm=float(head.point("hairline")[1] - head.point("chin")[1]),
        lit_triangles=paint.triangles_of(frozenset(Region) - UNLIT),
        shadow_catchers=paint.triangles_of(SHADOW_CATCHERS),
        eye_shaders=(
            _without(paint, around_eyes[0], EYE),
            _without(paint, around_eyes[1], EYE),
        ),
    )


class _Paint:
    """A head's mesh by its regions."""

    def __init__(self, head: Head) -> None:
        self.vertices = head.vertices_mm.astype(np.float64)
        self.triangles = np.ascontiguousarray(head.triangles, dtype=np.int32)
        self.region = np.ascontiguousarray(head.region_of_triangle, dtype=np.uint8)

    def triangles_of(self, wanted: Set[Region]) -> Ints:
        return np.flatnonzero(np.isin(self.region, list(wanted))).astype(np.int32)

    def vertices_of(self, wanted: Set[Region]) -> Ints:
        return np.unique(self.triangles[self.triangles_of(wanted)]).astype(np.int32)

    def edges_of(self, wanted: Set[Region]) -> Ints:
        """Vertex pairs (E, 2), each once."""
        chosen = self.triangles[self.triangles_of(wanted)]
        first, second = np.sort(chosen[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1).T
        count = len(self.vertices)
        numbers = np.unique(first.astype(np.int64) * count + second)
        return np.stack([numbers // count, numbers % count], axis=1).astype(np.int32)

    def lowest(self, wanted: Region) -> int:
        candidates = self.vertices_of({wanted})
        return int(candidates[np.argmin(self.vertices[candidates, 1])])


def _both(make: Callable[[str], Side]) -> tuple[Side, Side]:
    left, right = SIDES
    return make(left), make(right)


def _sided(name: str, side: str) -> Region:
    return Region[f"{name}_{side.upper()}"]


def _around_eye(paint: _Paint, eye: Eye) -> Ints:
    middles = paint.vertices[paint.triangles].mean(axis=1) - eye.centre_mm
    close = (np.abs(middles[:, :2]) < EYE_WINDOW_MM).all(axis=1) & (middles[:, 2] > 0.0)
    nose = np.isin(paint.region, list(NOSE - NOSTRILS))
    return np.flatnonzero((close | nose) & (paint.region != Region.SOCKET)).astype(np.int32)


def _without(paint: _Paint, chosen: Ints, unwanted: Set[Region]) -> Ints:
    return chosen[~np.isin(paint.region[chosen], list(unwanted))]


def _before(paint: _Paint, wanted: Set[Region], least_z_mm: float) -> Ints:
    edges = paint.edges_of(wanted)
    return edges[(paint.vertices[edges, 2] > least_z_mm).all(axis=1)]


def _cheek_arc(paint: _Paint, cheekbone: Floats, side: float) -> Slice:
    """The level slice from the cheekbone forward, so that turning reveals the cheek's outline."""
    edges = paint.edges_of(FACE - NOSE)
    first, second = edges[:, 0], edges[:, 1]
    over = paint.vertices[:, 1] - cheekbone[1]
    crossing = over[first] * over[second] < 0
    first, second = first[crossing], second[crossing]
    share = over[first] / (over[first] - over[second])
    points = paint.vertices[first] + share[:, None] * (
        paint.vertices[second] - paint.vertices[first]
    )
    behind_mm = cheekbone[2] - points[:, 2]
    kept = (side * points[:, 0] > 0.4 * abs(cheekbone[0])) & (behind_mm < 2.0)
    return Slice(first=first[kept], second=second[kept], share=share[kept])
