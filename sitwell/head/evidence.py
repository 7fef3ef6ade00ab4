"""What one frame's landmarks say about the unknowns of a fit, as normal equations.

The unknowns of a frame, in this order: shape sliders in sigmas (K), the sitter's own landmark
error in sigmas (S), expression sliders (E), rotation (3, radians) and place (3, mm).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.basis import landmark_basis
from sitwell.head.bias import LandmarkBias, Trust
from sitwell.head.pose import HeadPose, Sighting, pose_slope, slider_slopes

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
    trust: Trust,
) -> Evidence:
    """What the landmarks say, in the bias's coordinates."""
    basis = landmark_basis()
    points_mm = basis.at(shape, expression)
    mean_mm = basis.at(np.zeros_like(shape), expression)
    by_pose, rest = pose_slope(points_mm, mean_mm, pose, focal_px, sighting, bias)
    by_slider = bias.directions @ slider_slopes(basis, points_mm, pose)
    by_shape, by_expression = np.split(by_slider, [len(shape)], axis=1)
    by_shape = by_shape + bias.answer.T @ by_shape
    slope = np.hstack([by_shape, trust.sitter_modes.T, by_expression, by_pose])
    return normal_equations(slope, rest - sitter @ trust.sitter_modes, trust.in_frame)


def normal_equations(slope: Array, rest: Array, precision: Array) -> Evidence:
    """Normal equations of residuals (m,) with slope (m, p) and inverse covariance (m, m)."""
    weighted = precision @ slope
    return Evidence(
        matrix=slope.T @ weighted,
        pull=weighted.T @ rest,
        misfit=float(rest @ precision @ rest),
    )
