"""The head as it grows: sized skin, seated eyes, paint, hairline, eyeballs."""

from dataclasses import dataclass, replace

import numpy as np

from builders.head import points as head_points
from builders.head.calibrate import Sized
from builders.head.eyes import Seat, fit_lids, seat_eye
from builders.head.hairline import (
    BAND_MM,
    heights,
    midline_walk,
    round_middles,
    split_long_sides,
)
from builders.head.mesh import EYE_RADIUS_MM, Crop, eyeball, mirrored
from builders.head.paint import components, neighbours, paint
from builders.head.source import Floats, Ints, Source
from sitwell.head.regions import Region

SKULL = (Region.FOREHEAD, Region.TEMPLE_OWN_LEFT, Region.TEMPLE_OWN_RIGHT)


@dataclass(slots=True, kw_only=True)
class Build:
    """The head as it grows: skin first, then own-left and own-right eyeball.

    ``parents`` (V, 2) are the crop vertices each skin vertex lies halfway between (twice the
    same for an original one); the displacement of a slider follows from them.
    """

    source: Source
    crop: Crop
    sized: Sized
    seat: Seat
    vertices_mm: Floats
    triangles: Ints
    labels: Ints
    parents: Ints
    height_mm: Floats

    @property
    def skin(self) -> int:
        """How many vertices are skin."""
        return len(self.parents)

    @property
    def ball(self) -> int:
        """How many vertices one eyeball has; own left comes first after the skin."""
        return (len(self.vertices_mm) - self.skin) // 2

    def index(self, source_vertex: int) -> int:
        """The head's number of a source vertex."""
        return int(np.searchsorted(self.crop.kept, source_vertex))


def grow(source: Source, crop: Crop, sized: Sized) -> Build:
    """The finished mean head."""
    return _add_eyeballs(_refine(_seat(source, crop, sized)))


def midline(head: Build) -> Ints:
    """Skin vertices on the midline from between the brows over the crown to the nape, in order."""
    start, stop = (head.index(v) for v in (head_points.MIDLINE["brow_centre"], 5266))
    count = len(head.parents)
    on_it = set(np.flatnonzero(np.abs(head.vertices_mm[:count, 0]) < 1e-6).tolist())
    near: dict[int, set[int]] = {v: set() for v in on_it}
    for corners in head.triangles.tolist():
        both = [v for v in corners if v in on_it]
        if len(both) == 2:
            near[both[0]].add(both[1])
            near[both[1]].add(both[0])
    upward = max(near[start], key=lambda v: head.vertices_mm[v, 1])
    path = [start, upward]
    while path[-1] != stop:
        path.append(next(v for v in near[path[-1]] if v != path[-2]))
    return np.array(path)


def _seat(source: Source, crop: Crop, sized: Sized) -> Build:
    skin = sized.vertices_mm[crop.kept]
    seat = seat_eye(skin, crop, float(sized.vertices_mm[source.left_eye, 0].mean()))
    left = skin[:, 0] > 1e-6
    fitted = fit_lids(skin, seat)
    skin[left] = fitted[left]
    skin[crop.mirror[left]] = mirrored(fitted[left])
    skin -= [0.0, 0.0, seat.centre_mm[2]]
    labels = paint(skin, source, crop)
    return Build(
        source=source,
        crop=crop,
        sized=sized,
        seat=replace(seat, centre_mm=seat.centre_mm * [1.0, 1.0, 0.0]),
        vertices_mm=skin,
        triangles=crop.triangles,
        labels=labels,
        parents=np.repeat(np.arange(len(skin))[:, None], 2, axis=1),
        height_mm=np.full(len(labels), np.nan),
    )


def _refine(head: Build) -> Build:
    """Splits the mesh around the hairline and paints the scalp."""
    points = head.vertices_mm
    walk = midline_walk(points, midline(head))
    walk_points = np.einsum("nk,nkc->nc", walk.weights, points[walk.ends])
    skull = np.isin(head.labels, SKULL)

    def above(vertices: Floats, triangles: Ints) -> Floats:
        return heights(vertices[triangles].mean(axis=1), walk_points, walk.height_mm)

    height = above(points, head.triangles)
    band = skull & (height > BAND_MM[0]) & (height < BAND_MM[1])
    parents, triangles, origin = split_long_sides(points, head.triangles, band)
    head.vertices_mm = np.vstack([points, round_middles(points, head.triangles, parents)])
    head.parents = np.vstack([head.parents, parents])
    head.triangles, head.labels = triangles, head.labels[origin]
    height = above(head.vertices_mm, triangles)
    _join_islands(head, height)
    head.height_mm = np.where(np.isin(head.labels, SKULL), height, np.nan)
    return head


def _join_islands(head: Build, height_mm: Floats) -> None:
    """Scraps of bare skin that the hairline cuts off go to the hair, in place."""
    near = neighbours(head.triangles)
    for region in SKULL:
        for scrap in components(near, (head.labels == region) & (height_mm <= 0.0))[1:]:
            height_mm[scrap] = 0.5


def _add_eyeballs(head: Build) -> Build:
    ball, triangles, iris = eyeball()
    left = ball * EYE_RADIUS_MM + head.seat.centre_mm
    first, second = head.skin, head.skin + len(ball)
    head.vertices_mm = np.vstack([head.vertices_mm, left, mirrored(left)])
    head.triangles = np.vstack([head.triangles, triangles + first, triangles[:, ::-1] + second])
    for iris_region, white_region in (
        (Region.IRIS_OWN_LEFT, Region.WHITE_OWN_LEFT),
        (Region.IRIS_OWN_RIGHT, Region.WHITE_OWN_RIGHT),
    ):
        head.labels = np.concatenate([head.labels, np.where(iris, iris_region, white_region)])
        head.height_mm = np.concatenate([head.height_mm, np.full(len(iris), np.nan)])
    return head
