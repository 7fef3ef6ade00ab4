"""What one frame's landmarks and marks say about the unknowns of a fit, as normal equations.

The unknowns of a frame, in this order: shape sliders in sigmas (K), the sitter's own landmark
error in sigmas (S), expression sliders (E), rotation (3, radians) and place (3, mm). Everything
is in millimetres at the face, in picture axes turned upright with the head.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.basis import USED_LANDMARKS, PointBasis, landmark_basis
from sitwell.head.bias import LandmarkBias
from sitwell.head.pose import HeadPose, Sighting, pose_slope, upright_axes
from sitwell.head.template import load_template

# A few landmarks behind hair, a hand or a frame must not pull the whole head: beyond about
# three sigmas their weight falls as in a Student t with this many degrees of freedom.
_ROBUST_FREEDOM = 8.0

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Normal equations of one frame's unknowns: matrix (p, p), pull (p,), and the misfit."""

    matrix: Array
    pull: Array
    misfit: float


def landmark_evidence(
    sighting: Sighting,
    pose: HeadPose,
    focal_px: float,
    shape: Array,
    expression: Array,
    sitter: Array,
    bias: LandmarkBias,
    robust: bool,
) -> Evidence:
    """What the landmarks say; errors shared within the frame are integrated out."""
    basis = landmark_basis()
    points_mm = basis.at(shape, expression)
    seen_px = sighting.landmarks_px[USED_LANDMARKS]
    by_pose, rest_mm = pose_slope(points_mm, pose, focal_px, sighting, seen_px, bias)
    rest = rest_mm.reshape(-1) - sitter @ _rows(bias.sitter_modes_mm)
    by_shape, by_expression = slider_slopes(basis, points_mm, pose, shape)
    slope = np.hstack([by_shape, _rows(bias.sitter_modes_mm).T, by_expression, by_pose])
    modes = _rows(bias.frame_modes_mm).T
    weight = bias.scatter_mm.reshape(-1) ** -2.0
    if robust:
        weight = weight * _robust_weight(rest, modes, weight)
    return normal_equations(slope, rest, weight, modes)


def _rows(modes: Array) -> Array:
    return modes.reshape(len(modes), -1)


def normal_equations(slope: Array, rest: Array, weight: Array, modes: Array) -> Evidence:
    """Normal equations under the covariance diag(1 / weight) + modes modes' (Woodbury)."""
    weighted = slope * weight[:, None]
    modes_weighted = modes * weight[:, None]
    inner = np.linalg.inv(np.eye(modes.shape[1]) + modes.T @ modes_weighted)
    across, along = modes_weighted.T @ slope, modes_weighted.T @ rest
    return Evidence(
        matrix=weighted.T @ slope - across.T @ inner @ across,
        pull=weighted.T @ rest - across.T @ (inner @ along),
        misfit=float(rest @ (weight * rest) - along @ inner @ along),
    )


def _robust_weight(rest: Array, modes: Array, weight: Array) -> Array:
    """Weight (2N,) that falls for landmarks that lie far off what the shared errors explain."""
    modes_weighted = modes * weight[:, None]
    inner = np.eye(modes.shape[1]) + modes.T @ modes_weighted
    own = rest - modes @ np.linalg.solve(inner, modes_weighted.T @ rest)
    square = (own**2 * weight).reshape(-1, 2).sum(axis=1)
    return np.repeat((_ROBUST_FREEDOM + 2.0) / (_ROBUST_FREEDOM + square), 2)


def slider_slopes(
    basis: PointBasis, points_mm: Array, pose: HeadPose, shape: Array
) -> tuple[Array, Array]:
    """Slopes (2N, K) by shape in sigmas and (2N, E) by expression, in mm in the picture."""
    seen = points_mm @ pose.rotation.T + pose.place_mm
    far = -seen[:, 2:]
    scale = -pose.place_mm[2] / far
    flat = np.zeros((len(points_mm), 2, 3))
    flat[:, 0, 0] = scale[:, 0]
    flat[:, 1, 1] = -scale[:, 0]
    flat[:, 0, 2] = scale[:, 0] * seen[:, 0] / far[:, 0]
    flat[:, 1, 2] = -scale[:, 0] * seen[:, 1] / far[:, 0]
    to_upright = upright_axes(pose.seen_deg[2])
    by_point = to_upright @ flat @ pose.rotation
    sigma = load_template().shape_sigma.astype(np.float64)
    by_shape = by_point @ (basis.shape_slope(shape) * sigma[:, None, None]).transpose(1, 2, 0)
    by_expression = by_point @ basis.expression_mm.transpose(1, 2, 0)
    count = 2 * len(points_mm)
    return by_shape.reshape(count, -1), by_expression.reshape(count, -1)
