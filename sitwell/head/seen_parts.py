"""What the picture itself shows of ears and things in the way, as marks and names.

What the net sees (``face/features.py``) is said only where it is sure: a thing where the whole
picture tells of it and enough of it lies where it would, an ear's edges where it lies bare and they
are known to a few millimetres. The limits were set by eye on photographs of people, and how often
they are right is measured (docs/reading.md).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.marks import Mark
from sitwell.face.features import Features
from sitwell.face.parts import Part, PartsSeen
from sitwell.face.points import NAMES
from sitwell.head.hat_or_hair import is_apart_from_hair
from sitwell.head.pose import HeadPose, Sighting, pose_quick, project, upright_axes
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, build_head


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limit:
    """A thing's part, how likely it has to be, and how many square millimetres of it, in the rows
    from ``top_mm`` to ``bottom_mm`` below the eyes, have to show.
    """

    part: Part
    sure: float
    least_mm2: float
    top_mm: float = -200.0
    bottom_mm: float = 200.0


_LIMITS: Mapping[str, _Limit] = {
    "glasses": _Limit(part=Part.GLASSES, sure=0.6, least_mm2=100.0),
    "hat": _Limit(part=Part.HAT, sure=0.6, least_mm2=1200.0, bottom_mm=-20.0),
    "beard": _Limit(part=Part.BEARD, sure=0.4, least_mm2=500.0),
    "mask": _Limit(part=Part.MASK, sure=0.6, least_mm2=500.0),
    "hand": _Limit(part=Part.HAND, sure=0.95, least_mm2=600.0),
}
HAIR_OVER_EARS, _HAT = "hair-over-ears", "hat"
_SIDED = "hand"  # the thing that lies on one side as a rule, and how far off the middle it then is
_ASIDE_MM = 18.0
# The strip above the brows, in mm from the line of the eyes and to both sides of the middle.
_BROWS_MM, _FRINGE_SHARE, _FRINGE_SURE = ((-40.0, -14.0), 30.0), 0.3, 0.6
# An ear is bare from the first likelihood on, and hidden below the second.
_BARE, _HIDDEN = 0.8, 0.15
_EDGE_SURE_MM = 3.0  # an edge is marked where its spread is below this
_FARTHEST_MM = 30.0  # from where the mean head has it: beyond it something else was seen
# Turns toward an ear's own side, in degrees: beyond the first it hides behind the cheek; its outer
# edge is its outline only between the last two.
_TOWARD_MOST, _TOWARD_LEAST, _OUTER_MOST, _OUTER_LEAST = 12.0, -85.0, 15.0, -60.0
# Of the place where an ear must lie, this much hair means hair lies over it.
_COVERED_HAIR, _COVERED_FROM, _COVERED_TO = 0.35, -60.0, 8.0
_AXES = ("across", "up")

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edge:
    """A mark on an ear: its name, the net's point, the way it speaks, and what lies between an
    edge seen on skin and the mesh's own point, which the net's spread does not hold.
    """

    mark: str
    point: str
    speaks: Literal["across", "up"]
    off_mm: float


# Where the ear's front meets the cheek holds the root that the outer edge stands out from; a lobe's
# lowest point is a matter of taste across (as far off on scans of people as is said here).
_EDGES = (
    _Edge(mark="ear_top", point="ear_top", speaks="up", off_mm=1.0),
    _Edge(mark="ear_outer", point="ear_outer", speaks="across", off_mm=1.0),
    _Edge(mark="ear_lobe", point="ear_lobe", speaks="up", off_mm=1.0),
    _Edge(mark="ear_lobe", point="ear_lobe", speaks="across", off_mm=2.0),
    _Edge(mark="ear_front", point="ear_rim_14", speaks="across", off_mm=1.5),
    _Edge(mark="ear_front_top", point="ear_rim_15", speaks="across", off_mm=1.5),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class InTheWay:
    """A thing seen in the way, how ``sure`` it is (0 to 1), and on which own side, if on one."""

    thing: str
    sure: float
    side: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PointFound:
    """A named point in full-size pixels with its spread, one sigma, whatever the direction."""

    name: str
    x_px: float
    y_px: float
    spread_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What one picture shows: marks it is sure of, the ``things`` in the way, by name, and the
    sides (``own_left``, ``own_right``) of ``clear_ears`` and ``covered_ears``; ``seen`` says of
    each thing how sure it is, ``points`` are all that are known to some millimetres. Whether
    there is what ``asked`` names, the photographer is asked: until told it counts as not there.
    """

    marks: tuple[Mark, ...] = ()
    things: frozenset[str] = frozenset()
    clear_ears: frozenset[str] = field(default_factory=frozenset)
    covered_ears: frozenset[str] = field(default_factory=frozenset)
    seen: tuple[InTheWay, ...] = ()
    points: tuple[PointFound, ...] = ()
    asked: frozenset[str] = frozenset()


def find_parts(seen: Features, sighting: Sighting) -> Found:
    """Marks on ears and things in the way; ``seen`` and ``sighting`` are in the same pixels."""
    pose = pose_quick(build_head(), sighting)
    things = list(_things(seen))
    asked = frozenset({_HAT} if _may_be_hair(things, seen.parts) else ())
    things = [each for each in things if each.thing not in asked]
    marks: list[Mark] = []
    clear, covered = set(), set()
    for side in SIDES:
        toward_deg = pose.seen_deg[0] if side == "own_left" else -pose.seen_deg[0]
        found = _ear_marks(seen, side, sighting, pose, toward_deg)
        marks += found
        if any(mark.name.startswith("ear_outer") for mark in found):
            clear.add(side)
        elif _is_covered(seen, side, sighting, pose, toward_deg):
            covered.add(side)
            sure = 1.0 - seen.judged[f"ear-{side.replace('_', '-')}"]
            things.append(InTheWay(thing=HAIR_OVER_EARS, sure=sure, side=side))
    return Found(
        marks=tuple(marks),
        things=frozenset(each.thing for each in things if each.thing != HAIR_OVER_EARS),
        clear_ears=frozenset(clear),
        covered_ears=frozenset(covered),
        seen=tuple(things),
        asked=asked,
    )


def _may_be_hair(things: Sequence[InTheWay], parts: PartsSeen) -> bool:
    """Whether a hat is named whose colour goes on in the hair beside it."""
    if not any(each.thing == _HAT for each in things):
        return False
    hat = np.zeros(parts.shares.shape[1:], np.bool_)
    rows = _rows(_LIMITS[_HAT], parts)
    hat[rows] = parts.shares[:, rows].argmax(axis=0) == Part.HAT
    return not is_apart_from_hair(parts, hat)


def _things(seen: Features) -> tuple[InTheWay, ...]:
    likeliest, mm = seen.parts.shares.argmax(axis=0), seen.parts.mm_per_cell
    middle = len(likeliest) / 2.0
    named = []
    for thing, limit in _LIMITS.items():
        own = likeliest[_rows(limit, seen.parts)] == limit.part
        sure = seen.judged[thing]
        if sure > limit.sure and own.sum() * mm**2 > limit.least_mm2:
            aside_mm = (np.nonzero(own)[1].mean() + 0.5 - middle) * mm
            side = (
                SIDES[int(aside_mm < 0.0)]
                if thing == _SIDED and abs(aside_mm) > _ASIDE_MM
                else None
            )
            named.append(InTheWay(thing=thing, sure=sure, side=side))
    (high_mm, low_mm), half_mm = _BROWS_MM
    rows = slice(*(round(middle + at / mm) for at in (high_mm, low_mm)))
    columns = slice(*(round(middle + at / mm) for at in (-half_mm, half_mm)))
    sure = seen.judged["hair-over-brows"]
    fringe = (likeliest[rows, columns] == Part.HAIR).mean()
    if sure > _FRINGE_SURE and fringe > _FRINGE_SHARE:
        named.append(InTheWay(thing="hair-over-brows", sure=sure))
    return tuple(named)


def _rows(limit: _Limit, parts: PartsSeen) -> slice:
    """The rows of cells that a thing is looked for in."""
    size = parts.shares.shape[1]
    ends = (size / 2.0 + at / parts.mm_per_cell for at in (limit.top_mm, limit.bottom_mm))
    return slice(*(int(np.clip(round(at), 0, size)) for at in ends))


def _ear_marks(
    seen: Features, side: str, sighting: Sighting, pose: HeadPose, toward_deg: float
) -> list[Mark]:
    """Marks of a bare ear's edges that are surely known."""
    bare = seen.judged[f"ear-{side.replace('_', '-')}"] > _BARE
    if not bare or not _TOWARD_LEAST < toward_deg < _OUTER_MOST:
        return []
    mm_per_px = -pose.place_mm[2] / sighting.focal.px
    to_mm = upright_axes(pose.seen_deg[2]) @ seen.points.crop.axes_px.T * mm_per_px
    marks = []
    for edge in _EDGES:
        outer = edge.mark == "ear_outer"
        if toward_deg < _OUTER_LEAST if outer else toward_deg > _TOWARD_MOST:
            continue
        name = f"{edge.mark}_{side}"
        index = NAMES.index(f"{edge.point}_{side}")
        place = seen.points.crop.to_picture(seen.points.places[index][None])[0]
        covariance = to_mm @ seen.points.covariance[index] @ to_mm.T
        spread_mm = float(np.sqrt(np.diag(covariance)[_AXES.index(edge.speaks)]))
        expected = project(
            np.asarray(build_head().point(name), dtype=float)[None],
            pose,
            sighting.focal.px,
            sighting.centre_px,
        )[0]
        off_mm = float(np.linalg.norm(place - expected)) * mm_per_px
        if spread_mm < _EDGE_SURE_MM and off_mm < _FARTHEST_MM:
            marks.append(
                Mark(
                    name=name,
                    x_px=float(place[0]),
                    y_px=float(place[1]),
                    spread_px=float(np.hypot(spread_mm, edge.off_mm)) / mm_per_px,
                    speaks=edge.speaks,
                )
            )
    return marks


@cache
def _ear_places(side: str) -> Array:
    """The mean head's vertices (N, 3) of one ear, in mm."""
    head, region = build_head(), Region[f"EAR_{side.upper()}"]
    vertices = np.unique(head.triangles[head.region_of_triangle == region])
    return np.asarray(head.vertices_mm[vertices], dtype=np.float64)


def _is_covered(
    seen: Features, side: str, sighting: Sighting, pose: HeadPose, toward_deg: float
) -> bool:
    """Whether hair lies over an ear that the head's turn would show."""
    hidden = seen.judged[f"ear-{side.replace('_', '-')}"] < _HIDDEN
    if not hidden or not _COVERED_FROM < toward_deg < _COVERED_TO:
        return False
    spots = project(_ear_places(side), pose, sighting.focal.px, sighting.centre_px)
    inside = _cells_within(seen.parts, seen.parts.crop.from_picture(spots))
    return bool(inside.any() and (seen.parts.share(Part.HAIR)[inside] > 0.5).mean() > _COVERED_HAIR)


def _cells_within(parts: PartsSeen, outline: Array) -> NDArray[np.bool_]:
    """Cells (S, S) whose middle lies inside of an outline's points (N, 2)."""
    import cv2

    hull = outline[cv2.convexHull(outline.astype(np.float32), returnPoints=False)[:, 0]]
    along_x, along_y = (np.roll(hull, -1, axis=0) - hull).T[..., None, None]
    size = parts.shares.shape[1]
    y, x = np.mgrid[0:size, 0:size] + 0.5
    off_x, off_y = x - hull[:, 0, None, None], y - hull[:, 1, None, None]
    return np.asarray((along_x * off_y - along_y * off_x > 0).all(axis=0))
