"""Where the face is on a scanned surface: drawn from all round, looked at, cast back onto it.

A scan may lie any way up and in any unit. It is drawn, plainly lit, from more and more directions
until the landmarker sees a face whose landmarks, put back on the surface, have a face's shape.
"""

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.rotations import rotation_from_pose
from sitwell.base.words import tr
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import Focal
from sitwell.brief.photos import Photo
from sitwell.face.landmarks import FaceReading, find_faces
from sitwell.head.basis import USED_LANDMARKS, landmark_basis
from sitwell.head.bias import load_bias
from sitwell.head.facing import vertex_normals
from sitwell.scene.raster import rasterise
from sitwell.scene.scan_file import Surface

# Small enough that the landmarker looks once and not at tiles of the picture.
SEARCH_PX, LOOK_PX = 176, 480
LOOK_MM = 300.0
GOOD_FIT_MM, POOR_FIT_MM = 4.0, 7.0
# Views of the found face: turn and chin in degrees.
LOOKS_DEG = ((0.0, 0.0), (14.0, 0.0), (-14.0, 0.0), (0.0, 8.0), (0.0, -8.0))
LIGHT = np.array([0.30, 0.45, 0.84])
AMBIENT, GROUND = 0.30, 0.42
TRIMMED = 0.8  # the share of landmarks, nearest first, that a fit goes by

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A similarity from the scan to the head frame: head = scale * rotation @ scan + shift."""

    scale: float
    rotation: Floats
    shift_mm: Floats
    rest_mm: float

    def carry(self, points: Floats) -> Floats:
        """Points (n, 3) of the scan in the head frame, mm."""
        return self.scale * points @ self.rotation.T + self.shift_mm


def find_face(surface: Surface, name: str) -> tuple[Placed, Floats]:
    """The way from the scan to the mean head, and its used landmarks (468, 3) in its own unit.

    nan where a landmark fell beside the surface. HeadError where no face is seen from anywhere.
    """
    best: Placed | None = None
    for rotation in _directions():
        found = _placed_from(surface, rotation, None)
        if found is not None and (best is None or found[0].rest_mm < best.rest_mm):
            best = found[0]
            if best.rest_mm < GOOD_FIT_MM:
                break
    if best is None or best.rest_mm > POOR_FIT_MM:
        raise HeadError(
            tr(
                "No face is seen on the scan '{name}' from any side; scan the whole face with "
                "its eyes open, without glasses, and export that.",
                name=name,
            )
        )
    for _ in range(2):
        closer = _placed_from(surface, best.rotation, best)
        best = closer[0] if closer is not None else best
    seen = [_placed_from(surface, _turned(best, *look), best, look) for look in LOOKS_DEG]
    points = np.stack([found[1] for found in seen if found is not None] or [_nowhere()])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a landmark that no view put on the surface stays nan
        landmarks = np.asarray(np.nanmedian(points, axis=0))
    return _similarity(landmarks), landmarks


def _nowhere() -> Floats:
    return np.full((len(USED_LANDMARKS), 3), np.nan)


def _turned(placed: Placed, turn_deg: float, chin_deg: float) -> Floats:
    return rotation_from_pose(turn_deg, chin_deg, 0.0) @ placed.rotation


def _directions() -> Iterator[Floats]:
    """Rotations to look from: first as files usually lie, then all round."""
    half, quarter = np.diag([-1.0, 1.0, -1.0]), np.array([[0.0, 0, -1], [0, 1, 0], [1, 0, 0]])
    z_up = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
    for up in (np.eye(3), z_up, np.diag([-1.0, -1.0, 1.0]), np.diag([1.0, -1, -1]) @ z_up):
        for around in (np.eye(3), half, quarter, quarter.T):
            yield around @ up
    rng = np.random.default_rng(3)
    for _ in range(500):
        q, r = np.linalg.qr(rng.normal(size=(3, 3)))
        q = q * np.sign(np.diag(r))
        yield q * np.sign(np.linalg.det(q))


def _placed_from(
    surface: Surface,
    rotation: Floats,
    placed: Placed | None,
    look_deg: tuple[float, float] = (0.0, 0.0),
) -> tuple[Placed, Floats] | None:
    """What is seen from a direction (rows: right, up, toward the lens), whole or close up."""
    seen = surface.vertices @ rotation.T
    if placed is None:
        size_px = SEARCH_PX
        low, high = seen.min(axis=0), seen.max(axis=0)
        middle, scale = 0.5 * (low + high), 0.9 * size_px / float((high - low)[:2].max())
    else:
        size_px = LOOK_PX
        eyes = -placed.rotation.T @ placed.shift_mm / placed.scale
        middle, scale = rotation @ eyes, placed.scale * size_px / LOOK_MM
    rgb, depth = _drawn(surface, seen, rotation, middle, scale, size_px)
    face = _face_in(rgb)
    if face is None:
        return None
    places = face.landmarks_px[USED_LANDMARKS]
    if placed is not None:
        bias = load_bias()
        slid = (bias.at(*look_deg) @ bias.directions).reshape(-1, 2)
        places = places - slid * (scale / placed.scale) * (1.0, -1.0)
    points = _cast_back(places, depth, rotation, middle, scale, size_px)
    if np.isfinite(points[:, 0]).sum() < 0.8 * len(points):
        return None
    return _similarity(points), points


def _drawn(
    surface: Surface, seen: Floats, rotation: Floats, middle: Floats, scale: float, size_px: int
) -> tuple[NDArray[np.uint8], Floats]:
    """A plainly lit picture (n, n, 3) from afar, and depth toward the lens, nan off the surface."""
    x = 0.5 * size_px + (seen[:, 0] - middle[0]) * scale
    y = 0.5 * size_px - (seen[:, 1] - middle[1]) * scale
    lowest = float(seen[:, 2].min())
    near = seen[:, 2] - lowest + 1e-3 * (float(seen[:, 2].max()) - lowest) + 1e-12
    both = np.concatenate([surface.triangles, surface.triangles[:, ::-1]]).astype(np.int32)
    shown, nearest = np.empty((size_px, size_px), dtype=np.int32), np.empty((size_px, size_px))
    every, covered = np.arange(len(both), dtype=np.int32), np.empty(len(both), dtype=np.int32)
    rasterise(
        *(np.ascontiguousarray(a) for a in (x, y, near)), both, every, shown, nearest, covered
    )
    normals = vertex_normals(surface.vertices, surface.triangles)[surface.triangles].mean(axis=1)
    turned = normals @ rotation.T
    turned *= np.where(turned[:, 2:] < 0, -1.0, 1.0)
    light = AMBIENT + (1.0 - AMBIENT) * np.clip(turned @ LIGHT, 0.0, None)
    light *= 0.35 + 0.65 * surface.tone[surface.triangles].mean(axis=1)
    value = np.where(shown >= 0, np.concatenate([light, light])[shown], GROUND) ** (1 / 2.2)
    grey = np.clip(255.0 * 0.92 * value, 0, 255).astype(np.uint8)
    depth = np.where(shown >= 0, nearest + (seen[:, 2] - near)[0], np.nan)
    return np.repeat(grey[..., None], 3, axis=2), depth


def _face_in(rgb: NDArray[np.uint8]) -> FaceReading | None:
    height, width = rgb.shape[:2]
    focal = Focal(px=1.0, lens_mm=None, equivalent_mm=1.0, spread=0.0, source="given")
    photo = Photo(
        path=Path("scan"),
        rgb=rgb,
        width_px=width,
        height_px=height,
        facts=ExifFacts(),
        focal=focal,
    )
    return max(find_faces(photo), key=lambda face: face.side_px, default=None)


def _cast_back(
    places: Floats, depth: Floats, rotation: Floats, middle: Floats, scale: float, size_px: int
) -> Floats:
    """Points (n, 3) of the scan under picture places (n, 2); nan off the surface."""
    column, row = np.clip(np.floor(places), 0, size_px - 1).astype(np.int64).T
    x = middle[0] + (places[:, 0] - 0.5 * size_px) / scale
    y = middle[1] - (places[:, 1] - 0.5 * size_px) / scale
    return np.stack([x, y, depth[row, column]], axis=1) @ rotation


def _similarity(points: Floats) -> Placed:
    """The similarity that best carries landmarks (468, 3) to the mean head's.

    By least squares (Umeyama 1991) on the landmarks that fit best; those of the face's outline
    slide and those beside the surface lie wrong.
    """
    target = landmark_basis().mean_mm
    chosen = np.isfinite(points).all(axis=1)
    placed = _umeyama(points[chosen], target[chosen])
    for _ in range(4):
        rest = np.linalg.norm(placed.carry(points) - target, axis=1)
        rest[~np.isfinite(rest)] = np.inf
        limit = np.quantile(rest[np.isfinite(rest)], TRIMMED)
        chosen = rest <= limit
        placed = _umeyama(points[chosen], target[chosen])
    return placed


def _umeyama(points: Floats, target: Floats) -> Placed:
    from_mean, to_mean = points.mean(axis=0), target.mean(axis=0)
    off, wanted = points - from_mean, target - to_mean
    u, size, vt = np.linalg.svd(wanted.T @ off)
    sign = np.array([1.0, 1.0, np.sign(np.linalg.det(u @ vt))])
    rotation = (u * sign) @ vt
    scale = float((size * sign).sum() / max(float((off**2).sum()), 1e-12))
    shift = to_mean - scale * rotation @ from_mean
    rest = scale * points @ rotation.T + shift - target
    return Placed(
        scale=scale,
        rotation=rotation,
        shift_mm=shift,
        rest_mm=float(np.sqrt((rest**2).sum(axis=1).mean())),
    )
