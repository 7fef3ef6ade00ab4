"""Turn, chin and tilt as rotations, and back: the one place where pose angles become matrices.

Studio frame, right-handed: +X to the camera's right (the sitter's own left), +Y up, +Z from the
sitter to the camera. A pose is ``R = Ry(turn) @ Rx(-chin) @ Rz(-tilt)``: turn about the vertical,
chin about the line through the turned ears, tilt about the line through the turned, raised nose.
Positive turn carries the nose to +X, positive chin carries it up, positive tilt leans the crown
to +X.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Matrix = NDArray[np.float64]


def rotation_from_pose(turn_deg: float, chin_deg: float, tilt_deg: float) -> Matrix:
    """Rotation matrix (3, 3) that carries the neutral head into the pose, angles in degrees."""
    return _about_y(turn_deg) @ _about_x(-chin_deg) @ _about_z(-tilt_deg)


def pose_from_rotation(rotation: Matrix) -> tuple[float, float, float]:
    """Turn, chin and tilt in degrees of a rotation matrix (3, 3).

    Chin lies in -90..90. At exactly +-90 turn and tilt describe the same motion; all of it is
    then given to turn.
    """
    nose, up = rotation[:, 2], rotation[:, 1]
    chin_deg = float(np.degrees(np.arcsin(np.clip(nose[1], -1.0, 1.0))))
    if abs(nose[1]) > 1.0 - 1e-12:
        turn_deg = float(np.degrees(np.arctan2(-rotation[2, 0], rotation[0, 0])))
        return turn_deg, chin_deg, 0.0
    turn_deg = float(np.degrees(np.arctan2(nose[0], nose[2])))
    tilt_deg = float(np.degrees(np.arctan2(rotation[1, 0], up[1])))
    return turn_deg, chin_deg, -tilt_deg


def camera_axes(lens_mm: ArrayLike, aim_mm: ArrayLike) -> Matrix:
    """Rows: the camera's right, up and backward unit vectors, for a level camera aimed at a point.

    ``lens_mm`` and ``aim_mm`` are points (3,) in the studio frame; the backward axis points from
    the aim to the lens, so a level camera straight ahead of the sitter gives the identity.
    """
    x, y, z = np.asarray(lens_mm, dtype=np.float64) - np.asarray(aim_mm, dtype=np.float64)
    # Written out: this is called for every set-up that a search looks at.
    level, length = math.hypot(x, z), math.hypot(x, y, z)
    right_x, right_z = z / level, -x / level
    back_x, back_y, back_z = x / length, y / length, z / length
    return np.array(
        [
            [right_x, 0.0, right_z],
            [back_y * right_z, back_z * right_x - back_x * right_z, -back_y * right_x],
            [back_x, back_y, back_z],
        ]
    )


def seen_pose(
    rotation: Matrix, lens_mm: ArrayLike, face_mm: ArrayLike
) -> tuple[float, float, float]:
    """Turn, chin and tilt in degrees as the picture shows them, against the line of sight.

    The line of sight runs from the lens to the face, so a lower lens sees a raised chin.
    """
    return pose_from_rotation(camera_axes(lens_mm, face_mm) @ rotation)


def direction_from_angles(azimuth_deg: float, elevation_deg: float) -> Matrix:
    """Unit vector (3,) from the sitter to a light; azimuth + to camera right, elevation + up."""
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array(
        [
            np.sin(azimuth) * np.cos(elevation),
            np.sin(elevation),
            np.cos(azimuth) * np.cos(elevation),
        ]
    )


def angles_from_direction(direction: ArrayLike) -> tuple[float, float]:
    """Azimuth and elevation in degrees of a direction (3,) of any length but zero."""
    x, y, z = np.asarray(direction, dtype=np.float64) / np.linalg.norm(direction)
    return (
        float(np.degrees(np.arctan2(x, z))),
        float(np.degrees(np.arcsin(np.clip(y, -1.0, 1.0)))),
    )


def _about_x(angle_deg: float) -> Matrix:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def _about_y(angle_deg: float) -> Matrix:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def _about_z(angle_deg: float) -> Matrix:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
