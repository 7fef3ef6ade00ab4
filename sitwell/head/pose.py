"""The pose of a head before a lens: projection, what a picture shows of it, and a quick fit.

Camera frame: millimetres, origin at the lens, +x to the camera's right, +y up, +z backward (from
the scene to the lens), so a head looking straight into the lens has the identity as rotation.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import pose_from_rotation, seen_pose
from sitwell.brief.focal import Focal
from sitwell.brief.marks import Mark
from sitwell.head.basis import USED_LANDMARKS, landmarks_on
from sitwell.head.bias import LandmarkBias, load_bias
from sitwell.head.surface import Head

Array = NDArray[np.float64]
_LENS = np.zeros(3)
_QUICK_STEPS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """What one frame shows of a face: landmarks (478, 2) in full-size pixels, lens and marks.

    ``centre_px`` (2,) is where the lens's axis meets the picture; ``blendshapes`` are the
    landmarker's guesses at the expression, by its own names.
    """

    landmarks_px: Array
    centre_px: Array
    focal: Focal
    blendshapes: Mapping[str, float] = field(default_factory=dict)
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadPose:
    """A head in the camera frame: ``rotation`` (3, 3) and the eye midpoint's ``place_mm`` (3,)."""

    rotation: Array
    place_mm: Array

    @property
    def distance_mm(self) -> float:
        """From the lens to the eye midpoint, along the line of sight."""
        return float(np.linalg.norm(self.place_mm))

    @property
    def seen_deg(self) -> tuple[float, float, float]:
        """Turn, chin and tilt against the line of sight: what the picture shows."""
        return seen_pose(self.rotation, _LENS, self.place_mm)

    @property
    def axis_deg(self) -> tuple[float, float, float]:
        """Turn, chin and tilt against the camera's axis."""
        return pose_from_rotation(self.rotation)

    def moved(self, step: Array) -> "HeadPose":
        """The pose after a small rotation (3 numbers, radians) and shift (3 numbers, mm)."""
        return HeadPose(
            rotation=rotation_from_vector(step[:3]) @ self.rotation,
            place_mm=self.place_mm + step[3:6],
        )


def rotation_from_vector(vector: Array) -> Array:
    """Rotation matrix of a rotation vector in radians (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-12:
        return np.eye(3) + skew
    return np.eye(3) + np.sin(angle) / angle * skew + (1.0 - np.cos(angle)) / angle**2 * skew @ skew


def project(points_mm: Array, pose: HeadPose, focal_px: float, centre_px: Array) -> Array:
    """Pixels (N, 2), x right and y down, of points (N, 3) in the head frame."""
    seen = points_mm @ pose.rotation.T + pose.place_mm
    return centre_px + focal_px * seen[:, :2] / -seen[:, 2:] * (1.0, -1.0)


def expected_px(
    points_mm: Array, pose: HeadPose, focal_px: float, centre_px: Array, bias: LandmarkBias
) -> Array:
    """Pixels (N, 2) where the landmarker will put the used landmarks: projection plus its bias."""
    turn_deg, chin_deg, tilt_deg = pose.seen_deg
    offset_mm = bias.at(turn_deg, chin_deg) @ upright_axes(tilt_deg)
    px_per_mm = focal_px / -pose.place_mm[2]
    return project(points_mm, pose, focal_px, centre_px) + px_per_mm * offset_mm


def upright_axes(tilt_deg: float) -> Array:
    """Rows: the upright head's right and up as picture vectors (x right, y down).

    ``v @ upright_axes`` carries an upright offset into the picture, ``p @ upright_axes.T`` back.
    """
    s, c = np.sin(np.radians(tilt_deg)), np.cos(np.radians(tilt_deg))
    # The crown leans to camera right by tilt: up becomes (sin, cos up) = (s, -c) in the picture.
    return np.array([[c, s], [s, -c]])


def first_pose(
    points_mm: Array, landmarks_px: Array, focal_px: float, centre_px: Array
) -> HeadPose:
    """A pose to start from: the scaled orthographic fit of points (N, 3) to pixels (N, 2).

    The points must not lie in a plane, as the landmarks of a face do not.
    """
    mean_mm, mean_px = points_mm.mean(axis=0), landmarks_px.mean(axis=0)
    flat = (landmarks_px - mean_px) * (1.0, -1.0)
    affine = np.linalg.lstsq(points_mm - mean_mm, flat, rcond=None)[0].T
    scale = float(np.sqrt(np.linalg.norm(affine[0]) * np.linalg.norm(affine[1])))
    u, _, vt = np.linalg.svd(affine, full_matrices=False)
    first = u @ vt
    rotation = np.vstack([first, np.cross(first[0], first[1])])
    depth_mm = focal_px / scale
    aside_mm = (mean_px - centre_px) * (1.0, -1.0) / scale
    place = np.array([aside_mm[0], aside_mm[1], -depth_mm]) - rotation @ mean_mm
    return HeadPose(rotation=rotation, place_mm=place)


def pose_quick(
    head: Head, sighting: Sighting, start: HeadPose | None = None, bias: LandmarkBias | None = None
) -> HeadPose:
    """The pose of a known head in a frame, a few milliseconds: for checks while shooting."""
    bias = bias or load_bias()
    points_mm = landmarks_on(head)
    seen_px = sighting.landmarks_px[USED_LANDMARKS]
    focal_px = sighting.focal.px
    pose = start or first_pose(points_mm, seen_px, focal_px, sighting.centre_px)
    weights = 1.0 / quick_scatter_mm(bias) ** 2
    for _ in range(_QUICK_STEPS):
        focal_px = sighting.focal.px_at(pose.distance_mm)
        slope, residual_mm = pose_slope(points_mm, pose, focal_px, sighting, seen_px, bias)
        weighted = slope * weights.reshape(-1, 1)
        right = weighted.T @ residual_mm.reshape(-1)
        step = np.asarray(np.linalg.solve(weighted.T @ slope, right), dtype=np.float64)
        pose = pose.moved(step)
        if np.abs(step[:3]).max() < 1e-5 and np.abs(step[3:]).max() < 0.01:
            break
    return pose


def quick_scatter_mm(bias: LandmarkBias) -> Array:
    """Each landmark's whole scatter (N, 2) in mm, shared errors included."""
    shared = (bias.frame_modes_mm**2).sum(axis=0) + (bias.sitter_modes_mm**2).sum(axis=0)
    return np.sqrt(bias.scatter_mm**2 + shared)


_NUDGE = np.array([1e-4, 1e-4, 1e-4, 0.1, 0.1, 1.0])


def pose_slope(
    points_mm: Array,
    pose: HeadPose,
    focal_px: float,
    sighting: Sighting,
    seen_px: Array,
    bias: LandmarkBias,
) -> tuple[Array, Array]:
    """Slope (2N, 6) of the landmarks' places by the pose, and what is left of them (N, 2).

    Both in millimetres at the face, in the upright head's picture axes.
    """
    to_mm = upright_axes(pose.seen_deg[2]).T * (-pose.place_mm[2] / focal_px)
    here = expected_px(points_mm, pose, focal_px, sighting.centre_px, bias)
    columns = []
    for index, nudge in enumerate(_NUDGE):
        step = np.zeros(6)
        step[index] = nudge
        there = expected_px(points_mm, pose.moved(step), focal_px, sighting.centre_px, bias)
        columns.append(((there - here) / nudge @ to_mm).reshape(-1))
    return np.stack(columns, axis=1), (seen_px - here) @ to_mm
