"""The camera: where it stands, how it is aimed, and what a point becomes in its picture.

Picture coordinates here are tangents: x to the camera's right and y up, over the depth along the
axis. Times the image distance they are millimetres on the sensor.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sitwell.base.kernels import kernel
from sitwell.base.rotations import camera_axes
from sitwell.scene.lens import image_distance_mm
from sitwell.scene.setup import Setup

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A level camera: ``lens_mm`` (3,) in the studio, ``axes`` (3, 3) rows right, up, backward."""

    lens_mm: Floats
    axes: Floats

    def project(self, points_mm: ArrayLike) -> Floats:
        """Picture (N, 3) of studio points (N, 3): x and y as tangents, depth in mm."""
        seen = (np.asarray(points_mm, dtype=np.float64) - self.lens_mm) @ self.axes.T
        depth = -seen[..., 2]
        return np.stack([seen[..., 0] / depth, seen[..., 1] / depth, depth], axis=-1)


def camera_for(setup: Setup, aim_mm: ArrayLike) -> Camera:
    """The set-up's camera, aimed at a studio point (3,), usually the middle of the posed head."""
    lens_mm = setup.lens_mm()
    return Camera(lens_mm=lens_mm, axes=camera_axes(lens_mm, aim_mm))


def sensor_scale_mm(setup: Setup, focus_mm: float) -> float:
    """Millimetres on the sensor per unit of tangent, focused at ``focus_mm`` along the axis."""
    return image_distance_mm(setup.focal_mm, focus_mm)


@kernel
def project_vertices(
    points: Floats, lens: Floats, axes: Floats, x: Floats, y: Floats, nearness: Floats
) -> None:
    """``Camera.project`` for the inner loop: fills ``x, y`` and ``nearness`` (V,), 1/depth."""
    for i in range(points.shape[0]):
        a = points[i, 0] - lens[0]
        b = points[i, 1] - lens[1]
        c = points[i, 2] - lens[2]
        near = -1.0 / (axes[2, 0] * a + axes[2, 1] * b + axes[2, 2] * c)
        x[i] = (axes[0, 0] * a + axes[0, 1] * b + axes[0, 2] * c) * near
        y[i] = (axes[1, 0] * a + axes[1, 1] * b + axes[1, 2] * c) * near
        nearness[i] = near
