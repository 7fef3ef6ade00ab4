"""What the picture itself shows of ears and things in the way, as marks and names.

The net's parts (``face/parts.py``) become marks only where they are sure: an edge that hair lies
against, a blurred or half-hidden ear, or one turned away gives none. The limits below were set on
invented pictures so that nine in ten of what is said is right (docs/reading.md).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation
from scipy.ndimage import label as labelled
from scipy.spatial import ConvexHull

from sitwell.brief.marks import Mark
from sitwell.face.parts import CROP_PX, MM_PER_PX, Part, PartsSeen, Shares
from sitwell.head.pose import HeadPose, Sighting, pose_quick, project
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, build_head

# At least so many square millimetres of the crop show a thing before it is named.
_LEAST_MM2: Mapping[Part, tuple[str, float]] = {
    Part.GLASSES: ("glasses", 100.0),
    Part.HAT: ("hat", 500.0),
    Part.BEARD: ("beard", 500.0),
    Part.MASK: ("mask", 500.0),
    Part.HAND: ("hand", 750.0),
}
_OVER = (Part.HAIR, Part.HAT, Part.MASK, Part.HAND)
# An ear counts as seen where its pixels are this sure, in these sizes and this much of the ear that
# a mean head would show; an edge that hair lies against may be the hair's.
_SURE, _LEAST_SHOWN, _LEAST_SHOWN_OUTER, _MOST_SHOWN = 0.9, 0.7, 0.6, 1.9
_TALLEST_MM, _WIDEST_MM, _LEAST_PX = 80.0, 40.0, 12
_HAIR_AGAINST, _MOSTLY_HAIR = 0.3, 0.6
# Turns toward an ear's own side, in degrees: beyond the first it hides behind the cheek; its outer
# edge is its outline only between the last two.
_TOWARD_MOST, _TOWARD_LEAST, _OUTER_MOST, _OUTER_LEAST = 8.0, -50.0, 15.0, -25.0
# The edge that the net sees lies so far below (top, lobe) and out of (outer) the mesh's own, in mm,
# and scatters so much about it; both measured on invented pictures.
_OFF_MM: Mapping[str, float] = {"ear_top": 0.9, "ear_outer": -0.1, "ear_lobe": -0.3}
_SPREAD_MM = 1.1
# Of the place where an ear must lie, this much hair and this little ear means hair lies over it.
_COVERED_HAIR, _COVERED_EAR = 0.6, 0.25
# The strip above the brows, in mm from the line of the eyes and to both sides of the middle.
_BROWS_MM, _FRINGE_SHARE = ((-40.0, -14.0), 30.0), 0.35

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What one picture shows: marks it is sure of, the ``things`` in the way, by name, and the
    sides (``own_left``, ``own_right``) of ``clear_ears`` and ``covered_ears``.
    """

    marks: tuple[Mark, ...] = ()
    things: frozenset[str] = frozenset()
    clear_ears: frozenset[str] = field(default_factory=frozenset)
    covered_ears: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ear:
    """Where one ear must lie in the crop, by the mean head in its quick pose.

    ``points`` (3, 2) are its top, outer and lobe, ``outline`` (N, 2) its vertices, ``toward_deg``
    the turn toward its side, ``mm`` what a crop pixel covers there.
    """

    side: str
    points: Array
    outline: Array
    toward_deg: float
    mm: float

    @property
    def sign(self) -> int:
        """Which way along x is outward in the crop."""
        return 1 if self.side == "own_left" else -1


def find_parts(seen: PartsSeen, sighting: Sighting) -> Found:
    """Marks and things in the way; ``seen.crop`` and ``sighting`` are in the same pixels."""
    pose = pose_quick(build_head(), sighting)
    things = _things(seen)
    ears = [_ear(side, seen, sighting, pose) for side in SIDES]
    marks: list[Mark] = []
    clear, covered = set(), set()
    for ear in ears:
        found = _ear_marks(seen, ear)
        marks += found
        if any(mark.name.startswith("ear_outer") for mark in found):
            clear.add(ear.side)
        elif _is_covered(seen, ear):
            covered.add(ear.side)
    return Found(
        marks=tuple(marks),
        things=things,
        clear_ears=frozenset(clear),
        covered_ears=frozenset(covered),
    )


def _things(seen: PartsSeen) -> frozenset[str]:
    likeliest = seen.shares.argmax(axis=0)
    named = {
        name
        for part, (name, least_mm2) in _LEAST_MM2.items()
        if (likeliest == part).sum() * MM_PER_PX**2 > least_mm2
    }
    (high_mm, low_mm), aside_mm = _BROWS_MM
    rows = slice(*(round(CROP_PX / 2 + mm / MM_PER_PX) for mm in (high_mm, low_mm)))
    columns = slice(*(round(CROP_PX / 2 + mm / MM_PER_PX) for mm in (-aside_mm, aside_mm)))
    if (likeliest[rows, columns] == Part.HAIR).mean() > _FRINGE_SHARE:
        named.add("hair-over-brows")
    return frozenset(named)


@cache
def _ear_places(side: str) -> tuple[Array, Array]:
    """The mean head's three points (3, 3) and all vertices (N, 3) of one ear, in mm."""
    head, region = build_head(), Region[f"EAR_{side.upper()}"]
    vertices = np.unique(head.triangles[head.region_of_triangle == region])
    points = np.array([head.point(f"{stem}_{side}") for stem in _OFF_MM], dtype=float)
    return points, head.vertices_mm[vertices].astype(np.float64)


def _ear(side: str, seen: PartsSeen, sighting: Sighting, pose: HeadPose) -> _Ear:
    focal_px = sighting.focal.px

    def placed(points_mm: Array) -> Array:
        return seen.crop.from_picture(project(points_mm, pose, focal_px, sighting.centre_px))

    points_mm, vertices_mm = _ear_places(side)
    turn_deg = pose.seen_deg[0]
    return _Ear(
        side=side,
        points=placed(points_mm),
        outline=placed(vertices_mm),
        toward_deg=turn_deg if side == "own_left" else -turn_deg,
        mm=float(np.linalg.norm(seen.crop.axes_px[0]) * -pose.place_mm[2] / focal_px),
    )


def _ear_marks(seen: PartsSeen, ear: _Ear) -> list[Mark]:
    """Marks of the edges that are surely the ear's own."""
    if not _TOWARD_LEAST < ear.toward_deg < _OUTER_MOST:
        return []
    likely = seen.share(Part.EAR)
    blob = _blob(likely, ear)
    if blob is None or likely[blob].mean() < _SURE:
        return []
    around = np.where(binary_dilation(blob, iterations=2), likely, 0.0)
    down, across = around.max(axis=1), around.max(axis=0)[:: ear.sign]
    rows, columns = (np.flatnonzero(profile > 0.5) for profile in (down, across))
    outward = _crossing(across, columns[-1], 1)
    edges = {
        "ear_top": _crossing(down, rows[0], -1),
        "ear_outer": outward if ear.sign > 0 else CROP_PX - outward,
        "ear_lobe": _crossing(down, rows[-1], 1),
    }
    tall_mm = (edges["ear_lobe"] - edges["ear_top"]) * ear.mm
    shown = float(blob.sum()) / float(ConvexHull(ear.outline).volume)
    if tall_mm > _TALLEST_MM or len(columns) * ear.mm > _WIDEST_MM or shown > _MOST_SHOWN:
        return []
    sure = _sure_edges(seen, blob, ear, shown)
    return [_edge_mark(stem, edges[stem], seen, ear) for stem in edges if stem in sure]


def _blob(likely: Shares, ear: _Ear) -> NDArray[np.bool_] | None:
    """The largest patch of ear whose middle lies near enough to where the ear must be."""
    numbers, count = labelled(likely > 0.5)
    middle = ear.outline.mean(axis=0)
    reach = 12.0 / ear.mm + 0.5 * float(np.ptp(ear.outline, axis=0).max())
    best, largest = None, _LEAST_PX
    for number in range(1, count + 1):
        rows, columns = np.nonzero(numbers == number)
        away = np.hypot(columns.mean() - middle[0], rows.mean() - middle[1])
        if away < reach and len(rows) > largest:
            best, largest = numbers == number, len(rows)
    return best


def _crossing(profile: Array, last: int, step: int) -> float:
    """Where a profile falls through one half beyond its ``last`` pixel above it."""
    beyond = profile[last + step] if 0 <= last + step < len(profile) else 0.0
    share = (profile[last] - 0.5) / max(profile[last] - beyond, 1e-6)
    return float(last + 0.5 + step * np.clip(share, 0.0, 1.0))


def _sure_edges(seen: PartsSeen, blob: NDArray[np.bool_], ear: _Ear, shown: float) -> set[str]:
    """Which of the edges nothing but the ear makes."""
    rows, columns = np.nonzero(blob)
    over = seen.share(*_OVER)

    def against(row: int, step: int) -> float:
        beside = columns[rows == row]
        first, past = sorted((row + 2 * step, row + 6 * step))
        strip = over[max(first, 0) : max(past, 0), beside.min() : beside.max() + 1]
        return float(strip.mean()) if strip.size else 1.0

    sure = set()
    above, below = against(int(rows.min()), -1), against(int(rows.max()), 1)
    if shown > _LEAST_SHOWN_OUTER and above < _MOSTLY_HAIR and ear.toward_deg > _OUTER_LEAST:
        sure.add("ear_outer")
    if shown > _LEAST_SHOWN and ear.toward_deg < _TOWARD_MOST:
        sure |= {"ear_top"} if above < _HAIR_AGAINST else set()
        sure |= {"ear_lobe"} if below < _HAIR_AGAINST else set()
    return sure


def _edge_mark(stem: str, edge: float, seen: PartsSeen, ear: _Ear) -> Mark:
    """The mark of the named point, as far off the edge as it is on the mean head."""
    across = stem == "ear_outer"
    place = ear.points[list(_OFF_MM).index(stem)].copy()
    own = ear.outline[:, 0 if across else 1] * (ear.sign if across else 1)
    end = own.min() if stem == "ear_top" else own.max()
    end = end * ear.sign if across else end
    off = _OFF_MM[stem] / ear.mm * (ear.sign if across else 1)
    axis = 0 if across else 1
    place[axis] += edge - off - end
    x_px, y_px = seen.crop.to_picture(place[None])[0]
    return Mark(
        name=f"{stem}_{ear.side}",
        x_px=float(x_px),
        y_px=float(y_px),
        spread_px=_SPREAD_MM / ear.mm * float(np.linalg.norm(seen.crop.axes_px[0])),
        speaks="across" if across else "up",
    )


def _is_covered(seen: PartsSeen, ear: _Ear) -> bool:
    """Whether hair lies over an ear that the head's turn would show."""
    if not _TOWARD_LEAST < ear.toward_deg < 0.0:
        return False
    hull = ConvexHull(ear.outline).equations
    low, high = (
        np.clip(np.round(end).astype(int), 0, CROP_PX)
        for end in (ear.outline.min(axis=0), ear.outline.max(axis=0))
    )
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]] + 0.5
    inside = (hull[:, :2] @ np.stack([x.ravel(), y.ravel()]) + hull[:, 2:] < 0).all(axis=0)
    if not inside.any():
        return False
    box = seen.shares[:, low[1] : high[1], low[0] : high[0]].reshape(len(Part), -1)
    within = box[:, inside].mean(axis=1)
    return bool(within[Part.HAIR] > _COVERED_HAIR and within[Part.EAR] < _COVERED_EAR)
