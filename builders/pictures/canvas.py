"""A small canvas for labelled pictures: triangles and strokes with depth, then light on them.

Every pixel keeps what it shows (a part of ``sitwell.face.parts.Part``), its colour, its normal, or
its direction where it is a hair, and how near it is. Camera frame as in ``sitwell/head/pose.py``.
"""

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Ints = NDArray[np.int32]
Bytes = NDArray[np.uint8]
SURFACE, STRAND, SKIN = 0, 1, 2  # what light does on a pixel
SHADOW_PX = 256
_COS = np.cos(np.arange(16) * np.pi / 8).astype(np.float32)
_SIN = np.sin(np.arange(16) * np.pi / 8).astype(np.float32)


@dataclass(slots=True, kw_only=True)
class Canvas:
    """Buffers (H, W) of a picture: label, kind, nearness (1/depth, 0 empty), colour and normal."""

    label: Bytes
    kind: Bytes
    near: Floats
    colour: Floats
    normal: Floats
    gloss: Floats

    @classmethod
    def empty(cls, high_px: int, wide_px: int) -> "Canvas":
        """A canvas that shows nothing yet."""
        flat, deep = (high_px, wide_px), (high_px, wide_px, 3)
        return cls(
            label=np.zeros(flat, np.uint8),
            kind=np.zeros(flat, np.uint8),
            near=np.zeros(flat, np.float32),
            colour=np.zeros(deep, np.float32),
            normal=np.zeros(deep, np.float32),
            gloss=np.zeros(flat, np.float32),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where camera points come to lie: pixel = ``axes`` @ (x / depth, -y / depth) + ``origin``."""

    axes: Floats
    origin: Floats

    def pixels(self, points_mm: Floats) -> tuple[Floats, Floats]:
        """Pixel places (N, 2) and nearness (N,) of camera points (N, 3)."""
        near = (1.0 / np.maximum(-points_mm[:, 2], 50.0)).astype(np.float32)
        flat = points_mm[:, :2] * near[:, None] * np.array([1.0, -1.0], np.float32)
        return (flat @ self.axes.T + self.origin).astype(np.float32), near

    @property
    def px_per_unit(self) -> float:
        """Pixels that one unit of x / depth covers."""
        return float(np.sqrt(abs(np.linalg.det(self.axes))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """Camera points (V, 3), triangles (T, 3), a colour for each vertex, and for each triangle its
    label, kind and gloss; ``two_sided`` meshes show their backs too.
    """

    points_mm: Floats
    triangles: Ints
    colours: Floats
    label: Bytes
    kind: Bytes
    gloss: Floats
    two_sided: bool = False


def plain_mesh(
    points_mm: Floats, triangles: Ints, colours: Floats, label: int, gloss: float = 0.05
) -> Mesh:
    """A mesh of one part, seen from both sides."""
    count = len(triangles)
    return Mesh(
        points_mm=points_mm.astype(np.float32),
        triangles=triangles.astype(np.int32),
        colours=np.broadcast_to(colours, points_mm.shape).astype(np.float32),
        label=np.full(count, label, np.uint8),
        kind=np.full(count, SURFACE, np.uint8),
        gloss=np.full(count, gloss, np.float32),
        two_sided=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strokes:
    """Round strokes: points (N, P, 3) along each, radius (N, P) in mm, a colour (N, 3) each."""

    points_mm: Floats
    radius_mm: Floats
    colours: Floats
    label: int
    is_hair: bool
    gloss: float = 0.1


def draw_mesh(canvas: Canvas, view: View, mesh: Mesh) -> None:
    """Draw a mesh with smooth normals into a canvas."""
    xy, near = view.pixels(mesh.points_mm)
    normals = vertex_normals(mesh.points_mm, mesh.triangles)
    _triangles(
        xy, near, mesh.triangles, normals, mesh.colours, mesh.label, mesh.kind, mesh.gloss,
        mesh.two_sided, canvas.label, canvas.kind, canvas.near, canvas.colour, canvas.normal,
        canvas.gloss,
    )  # fmt: skip


def draw_strokes(canvas: Canvas, view: View, strokes: Strokes) -> None:
    """Draw strokes into a canvas."""
    count, length = strokes.points_mm.shape[:2]
    xy, near = view.pixels(strokes.points_mm.reshape(-1, 3))
    _strokes(
        xy.reshape(count, length, 2), near.reshape(count, length),
        strokes.points_mm, strokes.radius_mm.astype(np.float32), strokes.colours.astype(np.float32),
        view.px_per_unit, strokes.label, STRAND if strokes.is_hair else SURFACE, strokes.gloss,
        canvas.label, canvas.kind, canvas.near, canvas.colour, canvas.normal, canvas.gloss,
    )  # fmt: skip


def vertex_normals(points: Floats, triangles: Ints) -> Floats:
    """Unit normals (V, 3), each the mean of its triangles' by area."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    faces = np.cross(b - a, c - a)
    total = np.stack(
        [
            sum(
                np.bincount(triangles[:, k], weights=faces[:, axis], minlength=len(points))
                for k in range(3)
            )
            for axis in range(3)
        ],
        axis=1,
    )
    length = np.linalg.norm(total, axis=1, keepdims=True)
    return (total / np.maximum(length, 1e-9)).astype(np.float32)


@njit(cache=True, nogil=True)
def _triangles(
    xy: Floats, near: Floats, triangles: Ints, normals: Floats, colours: Floats, labels: Bytes,
    kinds: Bytes, gloss: Floats, two_sided: bool, out_label: Bytes, out_kind: Bytes,
    out_near: Floats, out_colour: Floats, out_normal: Floats, out_gloss: Floats,
) -> None:  # fmt: skip
    height, width = out_label.shape
    for t in range(triangles.shape[0]):
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        xi, yi, xj, yj, xk, yk = xy[i, 0], xy[i, 1], xy[j, 0], xy[j, 1], xy[k, 0], xy[k, 1]
        area = (xk - xi) * (yj - yi) - (xj - xi) * (yk - yi)
        if area == 0.0 or (area < 0.0 and not two_sided):
            continue
        left, right = max(math.ceil(min(xi, xj, xk) - 0.5), 0), min(max(xi, xj, xk) + 0.5, width)
        top, bottom = max(math.ceil(min(yi, yj, yk) - 0.5), 0), min(max(yi, yj, yk) + 0.5, height)
        side = 1.0 if area > 0.0 else -1.0
        for row in range(top, int(bottom)):
            y = row + 0.5
            for column in range(left, int(right)):
                x = column + 0.5
                wj = ((xk - xi) * (y - yi) - (x - xi) * (yk - yi)) / area
                wk = ((x - xi) * (yj - yi) - (xj - xi) * (y - yi)) / area
                wi = 1.0 - wj - wk
                if wi < 0.0 or wj < 0.0 or wk < 0.0:
                    continue
                here = wi * near[i] + wj * near[j] + wk * near[k]
                if here <= out_near[row, column]:
                    continue
                out_near[row, column] = here
                out_label[row, column], out_kind[row, column] = labels[t], kinds[t]
                out_gloss[row, column] = gloss[t]
                for c in range(3):
                    out_colour[row, column, c] = (
                        wi * colours[i, c] + wj * colours[j, c] + wk * colours[k, c]
                    )
                    out_normal[row, column, c] = side * (
                        wi * normals[i, c] + wj * normals[j, c] + wk * normals[k, c]
                    )


@njit(cache=True, nogil=True)
def _strokes(
    xy: Floats, near: Floats, points: Floats, radius_mm: Floats, colours: Floats,
    px_per_unit: float, label: int, kind: int, gloss: float, out_label: Bytes,
    out_kind: Bytes, out_near: Floats,
    out_colour: Floats, out_normal: Floats, out_gloss: Floats,
) -> None:  # fmt: skip
    height, width = out_label.shape
    for n in range(xy.shape[0]):
        for p in range(xy.shape[1] - 1):
            x0, y0, x1, y1 = xy[n, p, 0], xy[n, p, 1], xy[n, p + 1, 0], xy[n, p + 1, 1]
            r0 = max(radius_mm[n, p] * near[n, p] * px_per_unit, 0.55)
            r1 = max(radius_mm[n, p + 1] * near[n, p + 1] * px_per_unit, 0.55)
            tx = points[n, p + 1, 0] - points[n, p, 0]
            ty = points[n, p + 1, 1] - points[n, p, 1]
            tz = points[n, p + 1, 2] - points[n, p, 2]
            length = math.sqrt(tx * tx + ty * ty + tz * tz) + 1e-6
            steps = int(math.hypot(x1 - x0, y1 - y0) / max(0.35 * (r0 + r1), 0.7)) + 1
            for s in range(steps):
                w = s / steps
                x, y, r = x0 + w * (x1 - x0), y0 + w * (y1 - y0), r0 + w * (r1 - r0)
                middle = near[n, p] + w * (near[n, p + 1] - near[n, p])
                thick = radius_mm[n, p] + w * (radius_mm[n, p + 1] - radius_mm[n, p])
                for row in range(max(math.ceil(y - r - 0.5), 0), min(int(y + r + 0.5), height)):
                    for column in range(
                        max(math.ceil(x - r - 0.5), 0), min(int(x + r + 0.5), width)
                    ):
                        dx, dy = (column + 0.5 - x) / r, (row + 0.5 - y) / r
                        off = dx * dx + dy * dy
                        if off > 1.0:
                            continue
                        bulge = math.sqrt(1.0 - off)
                        here = middle / (1.0 - bulge * thick * middle)
                        if here <= out_near[row, column]:
                            continue
                        out_near[row, column] = here
                        out_label[row, column], out_kind[row, column] = label, kind
                        out_gloss[row, column] = gloss
                        for c in range(3):
                            out_colour[row, column, c] = colours[n, c]
                        if kind == 1:
                            out_normal[row, column, 0] = tx / length
                            out_normal[row, column, 1] = ty / length
                            out_normal[row, column, 2] = tz / length
                        else:
                            out_normal[row, column, 0] = dx
                            out_normal[row, column, 1] = -dy
                            out_normal[row, column, 2] = bulge


@njit(cache=True, nogil=True)
def cast_depth(points: Floats, triangles: Ints, out: Floats) -> None:
    """Largest third coordinate over a grid (S, S), for points whose first two are grid places."""
    size = out.shape[0]
    for t in range(triangles.shape[0]):
        i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        xi, yi, xj, yj = points[i, 0], points[i, 1], points[j, 0], points[j, 1]
        xk, yk = points[k, 0], points[k, 1]
        area = (xk - xi) * (yj - yi) - (xj - xi) * (yk - yi)
        if area == 0.0:
            continue
        top, bottom = max(math.ceil(min(yi, yj, yk) - 0.5), 0), min(max(yi, yj, yk) + 0.5, size)
        left, right = max(math.ceil(min(xi, xj, xk) - 0.5), 0), min(max(xi, xj, xk) + 0.5, size)
        for row in range(top, int(bottom)):
            y = row + 0.5
            for column in range(left, int(right)):
                x = column + 0.5
                wj = ((xk - xi) * (y - yi) - (x - xi) * (yk - yi)) / area
                wk = ((x - xi) * (yj - yi) - (xj - xi) * (y - yi)) / area
                if wj < 0.0 or wk < 0.0 or wj + wk > 1.0:
                    continue
                here = (1.0 - wj - wk) * points[i, 2] + wj * points[j, 2] + wk * points[k, 2]
                out[row, column] = max(out[row, column], here)


@njit(cache=True, nogil=True)
def cast_spots(points: Floats, radius: int, out: Floats) -> None:
    """The same for loose points (N, 3), each covering ``radius`` cells around it."""
    size = out.shape[0]
    for n in range(points.shape[0]):
        column, row = int(points[n, 0]), int(points[n, 1])
        for y in range(max(row - radius, 0), min(row + radius + 1, size)):
            for x in range(max(column - radius, 0), min(column + radius + 1, size)):
                out[y, x] = max(out[y, x], points[n, 2])


@njit(cache=True, nogil=True, fastmath=True)
def _open_share(
    shadow: Floats, x0: float, y0: float, depth: float, softness: float, taps: int, jitter: int
) -> float:  # fmt: skip
    """The share of some spots about a place of the shadow grid where nothing lies nearer."""
    size, share = shadow.shape[0], 0.0
    for tap in range(taps):
        spin = (jitter + tap * 6) % 16
        wide = softness * math.sqrt((tap + 0.5) / taps)
        x, y = int(x0 + wide * _COS[spin]), int(y0 + wide * _SIN[spin])
        if x < 0 or y < 0 or x >= size or y >= size or shadow[y, x] < depth:
            share += 1.0 / taps
    return share


@njit(cache=True, nogil=True, fastmath=True)
def light_pixels(
    near: Floats, kind: Bytes, colour: Floats, normal: Floats, gloss: Floats, rays: Floats,
    shade: Floats, lights: Floats, around: Floats, shadows: Floats,
    to_shadow: Floats, softness: Floats, bias_mm: float, shadow_taps: int, out: Floats,
) -> None:  # fmt: skip
    """Light (H, W, 3) off every covered pixel, into ``out``.

    ``rays`` (H, W, 2) are x/depth and y/depth, ``shade`` how open each pixel is, ``lights`` (L, 6)
    direction and colour, each with its shadows (L, S, S), the way there ``to_shadow`` (L, 3, 4)
    from camera points and its softness (L,); ``around`` (6, 3) is the light from +x, -x, +y, -y,
    +z and -z.
    """
    height, width = near.shape
    for row in range(height):
        for column in range(width):
            if near[row, column] <= 0.0:
                continue
            depth = 1.0 / near[row, column]
            px, py, pz = rays[row, column, 0] * depth, rays[row, column, 1] * depth, -depth
            nx, ny, nz = normal[row, column, 0], normal[row, column, 1], normal[row, column, 2]
            away = math.sqrt(px * px + py * py + pz * pz)
            vx, vy, vz = -px / away, -py / away, -pz / away
            what, shine = kind[row, column], gloss[row, column]
            red = green = blue = 0.0
            open_sky = shade[row, column]
            jitter = (row * 7 + column * 13) % 16
            for n in range(lights.shape[0]):
                lx, ly, lz = lights[n, 0], lights[n, 1], lights[n, 2]
                t = to_shadow[n]
                sx = t[0, 0] * px + t[0, 1] * py + t[0, 2] * pz + t[0, 3]
                sy = t[1, 0] * px + t[1, 1] * py + t[1, 2] * pz + t[1, 3]
                sz = t[2, 0] * px + t[2, 1] * py + t[2, 2] * pz
                open_to = _open_share(
                    shadows[n], sx, sy, sz + bias_mm, softness[n], shadow_taps, jitter
                )
                hx, hy, hz = lx + vx, ly + vy, lz + vz
                norm = 1.0 / (math.sqrt(hx * hx + hy * hy + hz * hz) + 1e-6)
                along = nx * lx + ny * ly + nz * lz
                half = (nx * hx + ny * hy + nz * hz) * norm
                tint = 0.0
                if what == 1:
                    falls = 0.7 * math.sqrt(max(1.0 - along * along, 0.0)) * open_sky * open_to
                    across = max(1.0 - half * half, 0.0)
                    spec = shine * across**20 * open_sky * open_to
                    tint = 6.0 * shine * across**6 * open_sky * open_to
                    fall_r = fall_g = fall_b = falls
                else:
                    spec = 0.0
                    if along > 0.0:
                        spec = open_to * shine * max(half, 0.0) ** (8.0 + 60.0 * shine)
                    fall_r = fall_g = fall_b = open_to * max(along, 0.0)
                    if what == 2:
                        fall_r = max((along + 0.22) / 1.22, 0.0) * (open_to + 0.11 * (1 - open_to))
                        fall_g = max((along + 0.08) / 1.08, 0.0) * (open_to + 0.04 * (1 - open_to))
                red += lights[n, 3] * ((fall_r + tint) * colour[row, column, 0] + spec)
                green += lights[n, 4] * ((fall_g + tint) * colour[row, column, 1] + spec)
                blue += lights[n, 5] * ((fall_b + tint) * colour[row, column, 2] + spec)
            for c in range(3):
                if what == 1:
                    air = (around[0, c] + around[1, c] + 2 * around[2, c] + around[4, c]) / 5.0
                else:
                    air = (
                        nx * nx * around[0 if nx > 0 else 1, c]
                        + ny * ny * around[2 if ny > 0 else 3, c]
                        + nz * nz * around[4 if nz > 0 else 5, c]
                    )
                air = air * open_sky * (colour[row, column, c] + 0.25 * shine)
                out[row, column, c] = air + (red, green, blue)[c]
