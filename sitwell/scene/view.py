"""What the camera sees of a head in a set-up: the one place where pose, camera and raster meet.

A view's own axes lie on the face: u across it (own left positive while the face looks at the
camera), v along its projected vertical, both in shares of the visible face height (hairline to
chin), origin at the eye midpoint's place. Areas are in shares of the visible face area.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import pose_from_rotation, rotation_from_pose
from sitwell.head.regions import FACE, Region
from sitwell.head.surface import Head
from sitwell.scene.anatomy import EYE_REGIONS, NOSTRILS, Anatomy, study
from sitwell.scene.camera import Camera, camera_for, project_vertices
from sitwell.scene.gaze import look_at
from sitwell.scene.posture import move_vertices
from sitwell.scene.raster import (
    blend_points,
    count_shown,
    extremes,
    face_axes,
    rasterise,
    recount_regions,
    sum_by_region,
    to_pixels,
    visible_areas,
)
from sitwell.scene.setup import Setup

WIDTH_PX, HEIGHT_PX = 192, 240
WINDOW_WIDTH_PX, WINDOW_HEIGHT_PX = 96, 60
FACE_REGIONS = np.array(sorted(FACE), dtype=np.int64)
EYE_MARGIN_MM = 2.0

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceFrame:
    """The face's own axes in the picture, in tangents: eye midpoint, up, visible face height.

    ``unit_per_mm`` is face heights per millimetre at the eye midpoint.
    """

    origin: tuple[float, float]
    up: tuple[float, float]
    face_height: float
    unit_per_mm: float

    def place(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """u and v of picture tangents."""
        u, v = np.empty(len(x)), np.empty(len(x))
        self.fill(np.ascontiguousarray(x), np.ascontiguousarray(y), u, v)
        return u, v

    def fill(self, x: Floats, y: Floats, u: Floats, v: Floats) -> None:
        """``place`` into arrays that are already there."""
        face_axes(x, y, *self.origin, *self.up, self.face_height, u, v)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One look at a head; arrays belong to the observer and change with its next look.

    ``posed_mm`` (V, 3) in the studio; ``u, v, nearness`` (V,); ``points_mm`` (P, 3), ``point_u``
    and ``point_v`` lists; ``shown`` (H, W) triangle by pixel; ``visible`` (T,) each triangle's
    visible area and ``region_area`` (37,) each region's, in shares of the face's;
    ``face_area`` is the face's visible area in square units of u.
    """

    anatomy: Anatomy
    setup: Setup
    rotation: Floats
    eyes_mm: Floats
    camera: Camera
    frame: "FaceFrame"
    local_mm: Floats
    posed_mm: Floats
    u: Floats
    v: Floats
    nearness: Floats
    points_mm: Floats
    point_u: list[float]
    point_v: list[float]
    point_depth_mm: list[float]
    shown: Ints
    nearest: Floats
    pixels_per_unit: float
    visible: Floats
    region_area: list[float]
    face_area: float
    eye_windows: tuple["Window", "Window"]
    seen_turn_deg: float
    seen_chin_deg: float

    def across(self, name: str) -> float:
        """u of a named point."""
        return self.point_u[self.anatomy.point_index[name]]

    def along(self, name: str) -> float:
        """v of a named point."""
        return self.point_v[self.anatomy.point_index[name]]

    def depth_mm(self, name: str) -> float:
        """Distance of a named point along the lens axis."""
        return self.point_depth_mm[self.anatomy.point_index[name]]

    def point_mm(self, name: str) -> Floats:
        """Place (3,) of a named point in the studio."""
        return self.points_mm[self.anatomy.point_index[name]]

    def place(self, points_mm: Floats) -> tuple[Floats, Floats]:
        """u and v (N,) of studio points (N, 3)."""
        x, y, _ = self.camera.project(points_mm).T
        return self.frame.place(x, y)

    def off_middle_plane_mm(self, points_mm: Floats) -> Floats:
        """How far studio points (N, 3) lie to the own left of the head's middle plane."""
        return (points_mm - self.eyes_mm) @ self.rotation[:, 0]

    def studio_from_head(self, points_mm: Floats) -> Floats:
        """Studio place of points (..., 3) that move with the skull."""
        return points_mm @ self.rotation.T + self.eyes_mm

    def head_from_studio(self, points_mm: Floats) -> Floats:
        """Head-frame place of studio points (..., 3)."""
        return (points_mm - self.eyes_mm) @ self.rotation

    def area(self, *regions: Region) -> float:
        """Visible area of regions together."""
        return sum(self.region_area[region] for region in regions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A magnified part of the picture: pixel = (u - left, top - v) * scale."""

    left: float
    top: float
    scale: float
    shown: Ints

    def triangle_at(self, u: float, v: float) -> int:
        """Triangle shown at a place of the view, -1 outside the window or the head."""
        column, row = (
            math.floor((u - self.left) * self.scale),
            math.floor((self.top - v) * self.scale),
        )
        height, width = self.shown.shape
        if not (0 <= row < height and 0 <= column < width):
            return -1
        return int(self.shown[row, column])


class Observer:
    """Looks at one head in many set-ups; keeps its buffers, so a view lasts until the next look."""

    def __init__(self, head: Head) -> None:
        anatomy = study(head)
        vertices, triangles = len(anatomy.vertices_mm), len(anatomy.triangles)
        self.anatomy = anatomy
        self._local = np.empty((vertices, 3))
        self._posed = np.empty((vertices, 3))
        self._x, self._y, self._near = (np.empty(vertices) for _ in range(3))
        self._u, self._v, self._x_px, self._y_px = (np.empty(vertices) for _ in range(4))
        self._points = np.empty((len(anatomy.point_corners), 3))
        self._point_x, self._point_y, self._point_near = (
            np.empty(len(anatomy.point_corners)) for _ in range(3)
        )
        self._covered = np.full(triangles, -1, dtype=np.int32)  # what is never drawn stays hidden
        self._seen = np.zeros(triangles, dtype=np.int32)
        self._visible = np.empty(triangles)
        self._region_area = np.empty(len(Region))
        self.canvas_corner = (0.0, 0.0, 1.0)  # left, top in u and v; pixels per unit
        self._main = _canvas(WIDTH_PX, HEIGHT_PX)
        self._windows = [_canvas(WINDOW_WIDTH_PX, WINDOW_HEIGHT_PX) for _ in range(3)]

    def view(self, setup: Setup) -> View:
        """See the head in a set-up."""
        anatomy = self.anatomy
        rotation = rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)
        self._pose(setup, rotation)
        forward = np.array([0.0, 0.0, setup.chin_forward_mm])
        offset = anatomy.pivot_mm + forward
        camera = camera_for(setup, rotation @ (anatomy.middle_mm - anatomy.pivot_mm) + offset)
        blend_points(self._posed, anatomy.point_corners, anatomy.point_weights, self._points)
        project_vertices(self._posed, camera.lens_mm, camera.axes, self._x, self._y, self._near)
        project_vertices(
            self._points,
            camera.lens_mm,
            camera.axes,
            self._point_x,
            self._point_y,
            self._point_near,
        )
        frame = self._face_frame(camera, rotation, offset)
        frame.fill(self._x, self._y, self._u, self._v)
        point_u, point_v = (a.tolist() for a in frame.place(self._point_x, self._point_y))
        pixels_per_unit = self._draw()
        windows = self._magnify(point_u, point_v, frame.unit_per_mm)
        face_area = self._areas(windows)
        seen_turn_deg, seen_chin_deg, _ = pose_from_rotation(camera.axes @ rotation)
        return View(
            anatomy=anatomy,
            setup=setup,
            rotation=rotation,
            eyes_mm=offset - rotation @ anatomy.pivot_mm,
            camera=camera,
            frame=frame,
            local_mm=self._local,
            posed_mm=self._posed,
            u=self._u,
            v=self._v,
            nearness=self._near,
            points_mm=self._points,
            point_u=point_u,
            point_v=point_v,
            point_depth_mm=(1.0 / self._point_near).tolist(),
            shown=self._main[0],
            nearest=self._main[1],
            pixels_per_unit=pixels_per_unit,
            visible=self._visible,
            region_area=self._region_area.tolist(),
            face_area=face_area,
            eye_windows=(windows[0], windows[1]),
            seen_turn_deg=seen_turn_deg,
            seen_chin_deg=seen_chin_deg,
        )

    def _pose(self, setup: Setup, rotation: Floats) -> None:
        anatomy = self.anatomy
        self._local[:] = anatomy.vertices_mm
        if setup.gaze == "lens":
            shift = np.array([0.0, 0.0, setup.chin_forward_mm])
            lens = rotation.T @ (setup.lens_mm() - anatomy.pivot_mm - shift) + anatomy.pivot_mm
            for eye in anatomy.eyes:
                look_at(self._local, eye, lens)
        move_vertices(
            self._local,
            anatomy.follow,
            anatomy.pivot_mm,
            rotation,
            setup.chin_forward_mm,
            self._posed,
        )

    def _face_frame(self, camera: Camera, rotation: Floats, offset: Floats) -> "FaceFrame":
        index = self.anatomy.point_index
        eyes_mm = offset - rotation @ self.anatomy.pivot_mm
        eyes_x, eyes_y, depth = camera.project(eyes_mm).tolist()
        rise = camera.axes @ rotation[:, 1]
        up_x, up_y = rise[0] + eyes_x * rise[2], rise[1] + eyes_y * rise[2]
        length = math.hypot(up_x, up_y)
        up_x, up_y = up_x / length, up_y / length
        hairline, chin = index["hairline"], index["chin"]
        face_height = float(
            (self._point_x[hairline] - self._point_x[chin]) * up_x
            + (self._point_y[hairline] - self._point_y[chin]) * up_y
        )
        return FaceFrame(
            origin=(eyes_x, eyes_y),
            up=(up_x, up_y),
            face_height=face_height,
            unit_per_mm=1.0 / (depth * face_height),
        )

    def _draw(self) -> float:
        """Rasterise the whole head, as large as the canvas holds; pixels per unit of u."""
        left, right, low, high = extremes(self._u, self._v, self.anatomy.framed_vertices)
        scale = min((WIDTH_PX - 2.0) / (right - left), (HEIGHT_PX - 2.0) / (high - low))
        left = 0.5 * (left + right) - 0.5 * WIDTH_PX / scale
        high = 0.5 * (low + high) + 0.5 * HEIGHT_PX / scale
        self.canvas_corner = left, high, scale
        self._raster(self.anatomy.drawn_triangles, left, high, scale, self._main)
        count_shown(self._main[0], self._seen)
        visible_areas(
            self.anatomy.triangles,
            self._u,
            self._v,
            self._x_px,
            self._y_px,
            self._near,
            self._main[1],
            self._covered,
            self._seen,
            self._visible,
        )
        return scale

    def _raster(
        self, chosen: Ints, left: float, top: float, scale: float, canvas: tuple[Ints, Floats]
    ) -> None:
        to_pixels(self._u, self._v, left, top, scale, self._x_px, self._y_px)
        rasterise(
            self._x_px,
            self._y_px,
            self._near,
            self.anatomy.triangles,
            chosen,
            canvas[0],
            canvas[1],
            self._covered,
        )

    def _magnify(
        self, point_u: list[float], point_v: list[float], unit_per_mm: float
    ) -> list[Window]:
        index, anatomy = self.anatomy.point_index, self.anatomy
        boxes: list[tuple[float, float, float, float]] = []
        for side in ("own_left", "own_right"):
            ends = [index[f"{name}_{side}"] for name in _EYE_ENDS]
            across, along = [point_u[i] for i in ends], [point_v[i] for i in ends]
            boxes.append((min(across), max(across), min(along), max(along)))
        nostrils = anatomy.nostril_vertices
        boxes.append(extremes(self._u, self._v, nostrils))
        chosen = (*anatomy.eye_chosen, anatomy.nostril_chosen)
        margin = EYE_MARGIN_MM * unit_per_mm
        return [
            self._window(box, triangles, margin, canvas)
            for box, triangles, canvas in zip(boxes, chosen, self._windows, strict=True)
        ]

    def _window(
        self,
        box: tuple[float, float, float, float],
        chosen: Ints,
        margin: float,
        canvas: tuple[Ints, Floats],
    ) -> Window:
        left, right, low, high = box
        scale = min(
            WINDOW_WIDTH_PX / (right - left + 2.0 * margin),
            WINDOW_HEIGHT_PX / (high - low + 2.0 * margin),
        )
        left = 0.5 * (left + right) - 0.5 * WINDOW_WIDTH_PX / scale
        top = 0.5 * (low + high) + 0.5 * WINDOW_HEIGHT_PX / scale
        self._raster(chosen, left, top, scale, canvas)
        return Window(left=left, top=top, scale=scale, shown=canvas[0])

    def _areas(self, windows: list[Window]) -> float:
        """Regions' areas as shares of the face; small openings are counted in their windows."""
        region, region_area = self.anatomy.region, self._region_area
        sum_by_region(region, self._visible, region_area)
        for window, wanted in zip(windows, _COUNTED, strict=True):
            recount_regions(region, window.shown, wanted, window.scale**-2, region_area)
        face = float(region_area[FACE_REGIONS].sum())
        region_area /= face
        self._visible /= face
        return face


_COUNTED = tuple(np.array(regions, dtype=np.int32) for regions in (*EYE_REGIONS, sorted(NOSTRILS)))
_EYE_ENDS = ("eye_inner", "eye_outer", "lid_upper", "lid_lower")


def _canvas(width: int, height: int) -> tuple[Ints, Floats]:
    return np.empty((height, width), dtype=np.int32), np.empty((height, width))
