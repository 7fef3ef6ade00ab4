"""The skin of a face unrolled: each spot of it at the same place on a chart, in every frame.

The chart is a cylinder round the mean head, cut open behind: across it runs around the head, down
it runs down the face, both in millimetres. A fitted head tells where each spot of the chart lies in
a picture, so that two frames of one sitter can be laid on each other, whatever the pose.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes
from sitwell.head.basis import PointBasis, anchored_basis
from sitwell.head.facing import in_front, vertex_normals
from sitwell.head.obscured import skin_under
from sitwell.head.pose import HeadPose, project
from sitwell.head.regions import Region
from sitwell.head.shading import linear_from_srgb
from sitwell.head.surface import Head
from sitwell.head.template import load_template

STEP_MM = 1.0
WINDOW_MM = 8.0  # windows of skin stand this far apart on the chart
_AXIS_MM, _RADIUS_MM = -75.0, 90.0  # the cylinder's axis behind the eyes, and its radius
_REACH_MM = ((-120.0, 120.0), (-75.0, 125.0))  # across and down, from between the eyes
# Eyeballs roll, hair falls; ears and what is hollow or under the jaw fold over on the chart.
_NOT_SKIN = (
    "SOCKET", "WHITE", "IRIS", "NOSTRIL", "NOSE_BASE", "EAR", "SCALP", "NECK", "UNDER_JAW",
)  # fmt: skip
_FACING_LENS = 0.3  # skin seen more slantingly is drawn out too far
_DARKEST = 0.02  # of full light; below it the logarithm is mostly noise
_FINEST_PX = 1.5  # picture pixels a chart step beyond which the picture is shrunk first

Array = NDArray[np.float64]
Plane = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class FacePicture:
    """The face's part of a photograph: ``rgb`` (h, w, 3), where its corner lies in the photograph
    (``origin_px``) and how many pixels of the photograph one of its own covers.
    """

    rgb: NDArray[np.uint8]
    origin_px: Array
    px_per_rgb_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinChart:
    """The chart's spots: ``shape`` (rows, columns); n cells, each with its triangle and weights.

    ``windows`` (M,) are the cells at the middles of windows of skin; ``around`` (M, 4) are the
    cells one to camera right and left of each, one below and one above.
    """

    shape: tuple[int, int]
    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    triangle: NDArray[np.int64]
    weights: Array
    windows: NDArray[np.int64]
    around: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrolled:
    """One frame's skin on the chart: ``light`` (its logarithm) and ``seen`` (0 or 1), both (H, W).

    ``spots_px`` (M, 2) is where the windows' middles lay in the photograph, ``to_chart`` (M, 2, 2)
    what a pixel to the right and one down there is on the chart, in mm.
    """

    light: Plane
    seen: Plane
    spots_px: Array
    to_chart: Array


@cache
def skin_chart() -> SkinChart:
    """The chart of the mean head."""
    template = load_template()
    vertices = template.vertices_mm.astype(np.float64)
    ahead = vertices[:, 2] - _AXIS_MM
    place = np.stack([np.arctan2(vertices[:, 0], ahead) * _RADIUS_MM, -vertices[:, 1]], axis=1)
    place = (place - [low for low, _ in _REACH_MM]) / STEP_MM
    columns, rows = (round((high - low) / STEP_MM) for low, high in _REACH_MM)
    names = [Region(region).name for region in range(len(Region))]
    is_skin = np.array([not name.startswith(_NOT_SKIN) for name in names])
    chosen = np.flatnonzero(is_skin[template.region_of_triangle])
    triangle, weights = _filled(
        place, np.hypot(vertices[:, 0], ahead), template.triangles, chosen, (rows, columns)
    )
    row, column = np.nonzero(triangle >= 0)
    cell = np.full((rows, columns), -1)
    cell[row, column] = np.arange(len(row))
    windows, around = _windows(cell)
    return SkinChart(
        shape=(rows, columns),
        rows=row,
        columns=column,
        triangle=triangle[row, column],
        weights=weights[row, column],
        windows=windows,
        around=around,
    )


def _filled(
    place: Array,
    outward: Array,
    triangles: NDArray[np.integer],
    chosen: NDArray[np.int64],
    shape: tuple[int, int],
) -> tuple[NDArray[np.int64], Array]:
    """Each cell's outermost triangle (H, W), -1 for none, and the weights (H, W, 3) in it."""
    first, second, third = (place[triangles[chosen, k]] for k in range(3))
    along, aside = second - first, third - first
    doubled = along[:, 0] * aside[:, 1] - along[:, 1] * aside[:, 0]
    flat = doubled == 0.0  # seen edge on from the axis: holds no cell
    doubled[flat] = 1.0
    least = np.ceil(np.minimum(np.minimum(first, second), third) - 0.5).astype(int)
    most = np.ceil(np.maximum(np.maximum(first, second), third) - 0.5).astype(int)
    found = []
    for down in range(int((most - least)[:, 1].max())):
        for across in range(int((most - least)[:, 0].max())):
            cell = least + np.array([across, down])
            to_cell = cell + 0.5 - first
            b = (to_cell[:, 0] * aside[:, 1] - to_cell[:, 1] * aside[:, 0]) / doubled
            c = (along[:, 0] * to_cell[:, 1] - along[:, 1] * to_cell[:, 0]) / doubled
            inside = ~flat & (np.minimum(b, c) >= 0.0) & (b + c <= 1.0)
            inside &= (cell >= 0).all(axis=1) & (cell < shape[::-1]).all(axis=1)
            n = np.flatnonzero(inside)
            found.append((cell[n], chosen[n], np.stack([1.0 - b[n] - c[n], b[n], c[n]], axis=1)))
    cells, owners, shares = (np.concatenate(part) for part in zip(*found, strict=True))
    inward = np.argsort(np.einsum("nc,nc->n", shares, outward[triangles[owners]]))
    triangle, weights = np.full(shape, -1), np.zeros((*shape, 3))
    across, down = cells[inward].T
    triangle[down, across], weights[down, across] = owners[inward], shares[inward]  # last one stays
    return triangle, weights


def _windows(cell: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    apart = round(WINDOW_MM / STEP_MM)
    rows, columns = np.meshgrid(
        *(np.arange(apart // 2, side - 1, apart) for side in cell.shape), indexing="ij"
    )
    rows, columns = rows.reshape(-1), columns.reshape(-1)
    middle = cell[rows, columns]
    around = np.stack(
        [
            cell[rows, columns + 1],
            cell[rows, columns - 1],
            cell[rows + 1, columns],
            cell[rows - 1, columns],
        ],
        axis=1,
    )
    whole = (middle >= 0) & (around >= 0).all(axis=1)
    return middle[whole], around[whole]


@cache
def window_basis() -> PointBasis:
    """The windows' middles as points that move with the head's sliders."""
    chart = skin_chart()
    return anchored_basis(chart.triangle[chart.windows], chart.weights[chart.windows])


def unroll(
    picture: FacePicture,
    head: Head,
    pose: HeadPose,
    focal_px: float,
    centre_px: Array,
    things: frozenset[str] = frozenset(),
) -> Unrolled:
    """Unroll a frame; ``head`` is as in the frame, lens and pose in the photograph's pixels.

    Skin under the ``things`` in the way (``obscured.py``) counts as not seen.
    """
    chart = skin_chart()
    corners = head.triangles[chart.triangle]
    spots = np.einsum("nc,nca->na", chart.weights, head.vertices_mm[corners].astype(np.float64))
    places_px = project(spots, pose, focal_px, centre_px)
    light, scale = _log_light(picture, focal_px / pose.distance_mm)
    own = (places_px - picture.origin_px) / scale - 0.5
    height, width = light.shape
    seen = _is_seen(head, pose, spots, corners) & (own > 1).all(axis=1)
    seen &= (own < (width - 2, height - 2)).all(axis=1)
    if things:
        seen &= ~skin_under(things)[head.region_of_triangle[chart.triangle]]
    where = np.zeros((*chart.shape, 2), dtype=np.float32)
    where[chart.rows, chart.columns] = own
    mask = np.zeros(chart.shape, dtype=np.float32)
    mask[chart.rows, chart.columns] = seen
    mask = np.asarray(cv2.erode(mask, np.ones((3, 3))), dtype=np.float32)
    laid = cv2.remap(light, where[..., 0], where[..., 1], cv2.INTER_CUBIC)
    right, left_, below, above = (places_px[chart.around[:, k]] for k in range(4))
    middles = window_basis().at(head.shape.astype(float), head.expression.astype(float))
    to_px = np.stack([right - left_, below - above], axis=2) / (2.0 * STEP_MM)
    return Unrolled(
        light=np.asarray(laid * mask, dtype=np.float32),
        seen=mask,
        spots_px=project(middles, pose, focal_px, centre_px),
        to_chart=np.asarray(np.linalg.pinv(to_px), dtype=np.float64),
    )


def _log_light(picture: FacePicture, px_per_mm: float) -> tuple[Plane, float]:
    """Logarithm of the picture's linear light, and the photograph's pixels to one of its own."""
    rgb, scale = picture.rgb, picture.px_per_rgb_px
    fine_px = px_per_mm / scale * STEP_MM
    if fine_px > _FINEST_PX:
        size = [max(2, round(side * _FINEST_PX / fine_px)) for side in (rgb.shape[1], rgb.shape[0])]
        scale *= rgb.shape[1] / size[0]
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    grey = np.asarray(cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    return np.log(linear_from_srgb(grey) + _DARKEST).astype(np.float32), scale


def _is_seen(
    head: Head, pose: HeadPose, spots: Array, corners: NDArray[np.integer]
) -> NDArray[np.bool_]:
    """Whether each spot of the chart faces the lens with nothing of the head before it."""
    chart = skin_chart()
    axes = camera_axes(np.zeros(3), pose.place_mm) @ pose.rotation
    normals = vertex_normals(head.vertices_mm.astype(np.float64), head.triangles)
    normal = np.einsum("nc,nca->na", chart.weights, normals[corners])
    facing = normal @ axes[2] / np.linalg.norm(normal, axis=1)
    every = head.vertices_mm[head.triangles].mean(axis=1).astype(np.float64) @ axes.T
    return (facing > _FACING_LENS) & in_front(every, spots @ axes.T)
