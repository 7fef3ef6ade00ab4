"""What the head's own parts hide from a light, by its direction in the head frame.

One small shadow map per direction of a ten-degree grid, made when first asked for and kept: a
search asks for the same few again and again. Between directions the shares are blended, and an
area source is five directions, so shadows move smoothly. The neck is taken as in the neutral pose.
Lids lie closer to the eyes than the map can tell, so each eye has a finer map of its own.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.kernels import kernel
from sitwell.base.rotations import direction_from_angles
from sitwell.scene.anatomy import EYE_REGIONS, Anatomy
from sitwell.scene.raster import rasterise

Floats = NDArray[np.float64]
Shares = NDArray[np.float32]
Ints = NDArray[np.int32]

STEP_DEG = 10.0
AZIMUTHS, ELEVATIONS = 36, 19
PIXEL_MM = 2.0
MAP_WIDTH_PX, MAP_HEIGHT_PX = 144, 176
DEPTH_OFFSET_MM = 1000.0  # keeps the rasteriser's nearness above zero
GAPS_MM = (2.0, 8.0)  # a caster nearer than this is the surface itself, the more on a slope
EYE_PIXEL = 0.0033  # face heights, so that a head's size is nothing to its eyes
EYE_WIDTH_PX, EYE_HEIGHT_PX = 60, 48
EYE_GAPS = (0.0016, 0.0055)  # an eye is round and can't shade itself: only what is around it casts
# Fill comes alike from all round. For each band of elevations, above and below: where it lies, the
# elevation and the number of the grid's directions that stand for it, and where the first stands,
# so that one band's lie between another's.
FILL_BANDS = (
    ((0.0, 20.0), 10.0, 12, 0.0),
    ((20.0, 40.0), 30.0, 12, 0.5),
    ((40.0, 60.0), 50.0, 9, 0.0),
    ((60.0, 90.0), 70.0, 4, 0.5),
)
# sixteen points spread evenly over a triangle, as weights of its corners
_SPREAD = np.array(
    [
        ((3 * i + k) / 12.0, (3 * j + k) / 12.0, (12 - 3 * i - 3 * j - 2 * k) / 12.0)
        for k in (1, 2)
        for i in range(4)
        for j in range(4)
        if 3 * i + 3 * j + 2 * k < 12
    ]
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """The head's triangles as a light meets them: head frame, normals unit length, mm and mm2."""

    middles_mm: Floats
    normals: Floats
    areas_mm2: Floats


def surface_of(anatomy: Anatomy) -> Surface:
    """Middles, normals and areas (T,) of a head's triangles."""
    corners = anatomy.vertices_mm[anatomy.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.maximum(np.linalg.norm(across, axis=1), 1e-12)
    return Surface(
        middles_mm=corners.mean(axis=1), normals=across / length[:, None], areas_mm2=0.5 * length
    )


class ShadowTable:
    """For each triangle, the share of light from a direction that reaches it, on a grid.

    ``exposed`` (T,) is the share of each triangle of an eye that its lids leave free, seen from
    the front, and 1 elsewhere.
    """

    def __init__(self, anatomy: Anatomy, surface: Surface) -> None:
        self._anatomy, self._surface = anatomy, surface
        count = len(anatomy.triangles)
        self.shares = np.empty((AZIMUTHS * ELEVATIONS, count), dtype=np.float32)
        self._ready = np.zeros(AZIMUTHS * ELEVATIONS, dtype=bool)
        self._covered = np.empty(count, dtype=np.int32)
        self._eye_pixel_mm = EYE_PIXEL * anatomy.face_height_mm
        self._x, self._y, self._near = np.empty((3, len(anatomy.vertices_mm)))
        everything = np.arange(count, dtype=np.int32)
        self._whole = _part(
            everything, anatomy.drawn_triangles, GAPS_MM, MAP_WIDTH_PX, MAP_HEIGHT_PX
        )
        self._eyes = [
            _part(
                np.flatnonzero(np.isin(anatomy.region, regions)).astype(np.int32),
                shaders,
                (EYE_GAPS[0] * anatomy.face_height_mm, EYE_GAPS[1] * anatomy.face_height_mm),
                EYE_WIDTH_PX,
                EYE_HEIGHT_PX,
            )
            for regions, shaders in zip(EYE_REGIONS, anatomy.eye_shaders, strict=True)
        ]
        self._middles = surface.middles_mm.copy()
        self.exposed = np.ones(count)
        for eye, part in zip(anatomy.eyes, self._eyes, strict=True):
            self._uncover(eye.centre_mm, part)

    def cells(self, directions: Floats) -> tuple[Ints, Floats]:
        """Grid cells (N, 4) around directions (N, 3) and their weights; makes missing cells."""
        cells = np.empty((len(directions), 4), dtype=np.int32)
        weights = np.empty((len(directions), 4))
        around(directions, cells, weights)
        for cell in cells[~self._ready[cells]]:
            if not self._ready[cell]:
                self._make(int(cell))
        return cells, weights

    def _uncover(self, centre_mm: Floats, part: "_Part") -> None:
        """Note what share of an eye's triangles the lids leave free, and stand for them there."""
        self._draw(self._anatomy.vertices_mm, centre_mm, part, self._eye_pixel_mm)
        corners = self._anatomy.vertices_mm[self._anatomy.triangles[part.receivers]]
        points = np.einsum("sc,rcx->rsx", _SPREAD, corners)
        height, width = part.nearest.shape
        across, up, near = np.moveaxis(points - centre_mm, -1, 0)
        column = np.clip(
            np.floor(0.5 * width + across / self._eye_pixel_mm).astype(int), 0, width - 1
        )
        row = np.clip(np.floor(0.5 * height - up / self._eye_pixel_mm).astype(int), 0, height - 1)
        free = part.nearest[row, column] - DEPTH_OFFSET_MM < near + part.gaps[0]
        count = free.sum(axis=1)
        self.exposed[part.receivers] = count / len(_SPREAD)
        some = count > 0
        means = (points * free[..., None]).sum(axis=1)[some] / count[some, None]
        self._middles[part.receivers[some]] = means

    def openness(self) -> Floats:
        """Share (T,) of light from all round that passes the head's other parts, by triangle.

        Against 300 Embree rays from each triangle every lit region's mean is within 0.04, the ears
        and eyes included; the area under the jaw comes out 0.08 too open.
        """
        passed, whole = np.zeros((2, self.shares.shape[1]))
        for azimuth, elevation, share in fill_directions():
            cell = self._ready_cell(azimuth, elevation)
            toward = direction_from_angles(azimuth, elevation)
            facing = share * np.maximum(self._surface.normals @ toward, 0.0)
            passed += facing * self.shares[cell]
            whole += facing
        return passed / np.maximum(whole, 1e-9)

    def _ready_cell(self, azimuth_deg: float, elevation_deg: float) -> int:
        row, column = round((elevation_deg + 90.0) / STEP_DEG), round(azimuth_deg / STEP_DEG)
        cell = row * AZIMUTHS + column % AZIMUTHS
        if not self._ready[cell]:
            self._make(cell)
        return cell

    def _make(self, cell: int) -> None:
        row, column = divmod(cell, AZIMUTHS)
        azimuth_deg, elevation_deg = column * STEP_DEG, row * STEP_DEG - 90.0
        toward = direction_from_angles(azimuth_deg, elevation_deg)
        right = direction_from_angles(azimuth_deg + 90.0, 0.0)
        axes = np.stack([right, np.cross(toward, right), toward])
        anatomy, cosines = self._anatomy, self._surface.normals @ toward
        vertices = anatomy.vertices_mm @ axes.T
        middles = self._middles @ axes.T
        self.shares[cell] = 1.0
        self._cast(
            cell, vertices, middles, cosines, anatomy.middle_mm @ axes.T, self._whole, PIXEL_MM
        )
        for eye, part in zip(anatomy.eyes, self._eyes, strict=True):
            place = eye.centre_mm @ axes.T
            self._cast(cell, vertices, middles, cosines, place, part, self._eye_pixel_mm)
        self._ready[cell] = True

    def _cast(
        self,
        cell: int,
        vertices: Floats,
        middles: Floats,
        cosines: Floats,
        place: Floats,
        part: "_Part",
        pixel_mm: float,
    ) -> None:
        """Lower the shares of a part's receivers to what its casters let through."""
        self._draw(vertices, place, part, pixel_mm)
        lower(
            part.receivers,
            middles - place,
            cosines,
            part.nearest,
            pixel_mm,
            *part.gaps,
            self.shares[cell],
        )

    def _draw(self, vertices: Floats, place: Floats, part: "_Part", pixel_mm: float) -> None:
        to_map(vertices, place, pixel_mm, *part.nearest.shape, self._x, self._y, self._near)
        rasterise(
            self._x,
            self._y,
            self._near,
            self._anatomy.triangles,
            part.casters,
            part.shown,
            part.nearest,
            self._covered,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """Triangles that receive light, those that may shade them, and the map to see it in."""

    receivers: Ints
    casters: Ints
    gaps: tuple[float, float]
    shown: Ints
    nearest: Floats


def _part(
    receivers: Ints, casters: Ints, gaps: tuple[float, float], width: int, height: int
) -> _Part:
    return _Part(
        receivers=receivers,
        casters=casters,
        gaps=gaps,
        shown=np.empty((height, width), dtype=np.int32),
        nearest=np.empty((height, width)),
    )


def fill_directions() -> Iterator[tuple[float, float, float]]:
    """Azimuth and elevation of directions all round, and the share of the sky each stands for."""
    for (low, high), elevation, count, first in FILL_BANDS:
        band = math.sin(math.radians(high)) - math.sin(math.radians(low))
        for n in range(count):
            azimuth = STEP_DEG * round((n + first) * 360.0 / count / STEP_DEG)
            yield azimuth, elevation, 0.5 * band / count
            yield azimuth, -elevation, 0.5 * band / count


def fill_openness(anatomy: Anatomy) -> Floats:
    """Share (T,) of light from all round that reaches each triangle past the head's other parts."""
    return ShadowTable(anatomy, surface_of(anatomy)).openness()


@kernel
def around(directions: Floats, cells: Ints, weights: Floats) -> None:
    """The four grid cells around each unit direction, and bilinear weights."""
    for n in range(directions.shape[0]):
        azimuth = math.degrees(math.atan2(directions[n, 0], directions[n, 2])) % 360.0
        elevation = math.degrees(math.asin(min(max(directions[n, 1], -1.0), 1.0)))
        across, up = azimuth / STEP_DEG, (elevation + 90.0) / STEP_DEG
        column, row = int(across), min(int(up), ELEVATIONS - 2)
        a, b = across - column, up - row
        after = (column + 1) % AZIMUTHS
        column = column % AZIMUTHS
        cells[n, 0], weights[n, 0] = row * AZIMUTHS + column, (1.0 - a) * (1.0 - b)
        cells[n, 1], weights[n, 1] = row * AZIMUTHS + after, a * (1.0 - b)
        cells[n, 2], weights[n, 2] = (row + 1) * AZIMUTHS + column, (1.0 - a) * b
        cells[n, 3], weights[n, 3] = (row + 1) * AZIMUTHS + after, a * b


@kernel
def to_map(
    points: Floats,
    place: Floats,
    pixel_mm: float,
    height: int,
    width: int,
    x: Floats,
    y: Floats,
    near: Floats,
) -> None:
    """Points (N, 3) in a light's axes as pixels and nearness of a map around ``place``."""
    for n in range(points.shape[0]):
        x[n] = 0.5 * width + (points[n, 0] - place[0]) / pixel_mm
        y[n] = 0.5 * height - (points[n, 1] - place[1]) / pixel_mm
        near[n] = points[n, 2] - place[2] + DEPTH_OFFSET_MM


@kernel
def lower(
    receivers: Ints,
    middles: Floats,
    cosines: Floats,
    nearest: Floats,
    pixel_mm: float,
    least_gap: float,
    most_gap: float,
    shares: Shares,
) -> None:
    """Lower ``shares`` (T,) of the receivers, middles in a map's axes, to what its casters pass."""
    # nine samples of the map around each middle, each passing softly over the allowed gap, which
    # grows with the slope of the surface against the light
    height, width = nearest.shape
    for t in receivers:
        column = math.floor(0.5 * width + middles[t, 0] / pixel_mm)
        row = math.floor(0.5 * height - middles[t, 1] / pixel_mm)
        cosine = max(abs(cosines[t]), 0.1)
        slope = math.sqrt(1.0 - cosine * cosine) / cosine
        gap = min(least_gap + pixel_mm * slope, most_gap)
        total, count = 0.0, 0
        for y in range(max(row - 1, 0), min(row + 2, height)):
            for x in range(max(column - 1, 0), min(column + 2, width)):
                over = nearest[y, x] - DEPTH_OFFSET_MM - middles[t, 2] - gap
                total += 1.0 - min(max(over / least_gap, 0.0), 1.0)
                count += 1
        if count > 0:
            shares[t] = min(shares[t], total / count)
