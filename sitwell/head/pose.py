"""The pose of a head before a lens: projection, what a picture shows of it, and a quick fit.

Camera frame: millimetres, origin at the lens, +x to the camera's right, +y up, +z backward (from
the scene to the lens), so a head looking straight into the lens has the identity as rotation.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import pose_from_rotation, seen_pose
from sitwell.base.threads import one_blas_thread
from sitwell.brief.focal import Focal
from sitwell.brief.marks import Mark
from sitwell.head.basis import USED_LANDMARKS, PointBasis, landmark_basis, landmarks_on
from sitwell.head.bias import LandmarkBias, load_bias, trust_in
from sitwell.head.expression import expected_expression
from sitwell.head.surface import Head

Array = NDArray[np.float64]
_LENS = np.zeros(3)
_QUICK_STEPS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """What one frame shows of a face: landmarks (478, 2) in full-size pixels, lens and marks.

    ``centre_px`` (2,) is where the lens's axis meets the picture; ``blendshapes`` are the
    landmarker's guesses at the expression, by its own names; ``obscured`` names what lies over the
    face (``brief/in_the_way.py``).
    """

    landmarks_px: Array
    centre_px: Array
    focal: Focal
    blendshapes: Mapping[str, float] = field(default_factory=dict)
    marks: tuple[Mark, ...] = ()
    obscured: frozenset[str] = frozenset()


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


def rough_pose(sighting: Sighting) -> HeadPose:
    """The mean head's scaled orthographic fit to a frame: some degrees off, at no cost."""
    seen_px = sighting.landmarks_px[USED_LANDMARKS]
    return first_pose(landmark_basis().mean_mm, seen_px, sighting.focal.px, sighting.centre_px)


def pose_quick(
    head: Head, sighting: Sighting, start: HeadPose | None = None, bias: LandmarkBias | None = None
) -> HeadPose:
    """The pose of a known head in a frame, a few milliseconds: for checks while shooting.

    The expression is taken from the landmarker's guesses, and not trusted far.
    """
    with one_blas_thread():
        return _pose_quick(head, sighting, start, bias or load_bias())


def _pose_quick(
    head: Head, sighting: Sighting, start: HeadPose | None, bias: LandmarkBias
) -> HeadPose:
    basis = landmark_basis()
    expression, sigma = expected_expression(sighting.blendshapes)
    pulled_mm = np.tensordot(expression, basis.expression_mm, 1)
    points_mm, mean_mm = landmarks_on(head) + pulled_mm, basis.mean_mm + pulled_mm
    focal_px = sighting.focal.px
    pose = start or first_pose(
        points_mm, sighting.landmarks_px[USED_LANDMARKS], focal_px, sighting.centre_px
    )
    by_expression = slider_slopes(basis, points_mm, pose)[:, len(basis.shape_mm) :]
    unsure = bias.directions @ (by_expression * sigma)
    precision = _widened(trust_in(bias).in_all, unsure)
    for _ in range(_QUICK_STEPS):
        focal_px = sighting.focal.px_at(pose.distance_mm)
        slope, rest = pose_slope(points_mm, mean_mm, pose, focal_px, sighting, bias)
        weighted = slope.T @ precision
        step = np.asarray(np.linalg.solve(weighted @ slope, weighted @ rest), dtype=np.float64)
        pose = pose.moved(step)
        if is_still(step):
            break
    return pose


def _widened(precision: Array, unsure: Array) -> Array:
    """Inverse of (covariance + ``unsure`` unsure'), from the covariance's inverse (Woodbury)."""
    carried = precision @ unsure
    core = np.eye(unsure.shape[1]) + unsure.T @ carried
    return np.asarray(precision - carried @ np.linalg.solve(core, carried.T), dtype=np.float64)


def is_still(step: Array) -> bool:
    """Whether a pose's step (6,) is below 0.01 degrees and 0.1 mm."""
    return bool(np.abs(step[:3]).max() < 2e-4 and np.abs(step[3:6]).max() < 0.1)


_NUDGE = np.array([1e-4, 1e-4, 1e-4, 0.1, 0.1, 1.0])


def pose_slope(
    points_mm: Array,
    mean_mm: Array,
    pose: HeadPose,
    focal_px: float,
    sighting: Sighting,
    bias: LandmarkBias,
) -> tuple[Array, Array]:
    """Slope (M, 6) of the expected landmarks by the pose, and what is left of them (M,).

    ``points_mm`` (N, 3) are the used landmarks on this head, ``mean_mm`` (N, 3) on the mean head
    with the same expression. Both results are in the bias's coordinates.
    """
    to_mm = upright_axes(pose.seen_deg[2]).T * (-pose.place_mm[2] / focal_px)
    nudged = [pose, *(pose.moved(step) for step in np.diag(_NUDGE))]
    both_mm = np.concatenate([points_mm, mean_mm])
    flat_mm = np.stack(
        [project(both_mm, each, focal_px, sighting.centre_px) @ to_mm for each in nudged]
    ).reshape(len(nudged), 2, -1)
    departures = (flat_mm[:, 0] - flat_mm[:, 1]) @ bias.directions.T
    offsets = np.array([bias.at(*each.seen_deg[:2]) for each in nudged])
    seen = (sighting.landmarks_px[USED_LANDMARKS] @ to_mm).reshape(-1)
    left = (seen - flat_mm[:, 0]) @ bias.directions.T - departures @ bias.answer - offsets
    return (left[0] - left[1:]).T / _NUDGE, left[0]


def slider_slopes(basis: PointBasis, points_mm: Array, pose: HeadPose) -> Array:
    """Slopes (2N, K + E) by shape in sigmas and by expression, in upright picture mm."""
    seen = points_mm @ pose.rotation.T + pose.place_mm
    far = -seen[:, 2]
    scale = -pose.place_mm[2] / far
    flat = np.zeros((len(points_mm), 2, 3))
    flat[:, 0, 0], flat[:, 1, 1] = scale, -scale
    flat[:, 0, 2], flat[:, 1, 2] = scale * seen[:, 0] / far, -scale * seen[:, 1] / far
    by_point = upright_axes(pose.seen_deg[2]) @ flat @ pose.rotation
    return (by_point @ basis.slope_mm).reshape(2 * len(points_mm), -1)
