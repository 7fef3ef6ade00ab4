"""Where landmarks and named points lie on the head, as linear functions of its sliders."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.prior import shape_sigma
from sitwell.head.surface import SIDES, Head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
# The last ten of the 478 lie on the irises and move with the gaze, not with the head.
USED_LANDMARKS = np.arange(468)


@dataclass(frozen=True, slots=True, kw_only=True)
class PointBasis:
    """N anchored points, in mm in the head frame: position = mean + sliders . directions.

    ``mean_mm`` (N, 3), ``shape_mm`` (K, N, 3) per slider unit, ``even_mm`` (B, N, 3) per unit of
    the absolute value of the sliders ``even_index``, ``expression_mm`` (E, N, 3) at 1.
    ``slope_mm`` (N, 3, K + E) is how the points move by shape sliders in sigmas and by expression;
    it leaves out the even part, whose sign flips would make a solver hop to and fro at 0.
    """

    mean_mm: Array
    shape_mm: Array
    even_mm: Array
    even_index: NDArray[np.int32]
    expression_mm: Array
    slope_mm: Array

    def at(self, shape: Array, expression: Array) -> Array:
        """Positions (N, 3) in mm for slider vectors (K,) and (E,)."""
        even = np.abs(shape[self.even_index])
        return (
            self.mean_mm
            + np.tensordot(shape, self.shape_mm, 1)
            + np.tensordot(even, self.even_mm, 1)
            + np.tensordot(expression, self.expression_mm, 1)
        )


@cache
def landmark_basis() -> PointBasis:
    """The used landmarks."""
    template = load_template()
    return anchored_basis(
        template.landmark_triangle[USED_LANDMARKS], template.landmark_weights[USED_LANDMARKS]
    )


@cache
def named_point_basis(names: tuple[str, ...]) -> PointBasis:
    """The named points of the surface, in the order given."""
    template = load_template()
    anchors = [template.points[name] for name in names]
    triangles = np.array([triangle for triangle, _ in anchors], dtype=np.int64)
    weights = np.array([weight for _, weight in anchors], dtype=np.float64)
    return anchored_basis(triangles, weights)


@cache
def eye_centre_basis() -> tuple[Array, Array]:
    """Centres of the eyeballs own left and own right: mean (2, 3) and slope (K, 2, 3) in mm."""
    template = load_template()
    mean = np.stack([template.eye_centre_mm[side] for side in SIDES]).astype(np.float64)
    # shape sliders carry a whole eyeball along, so any of its vertices tells the shift
    slope = np.stack(
        [template.shape_mm[:, template.eyeball_vertices[side][0]] for side in SIDES], axis=1
    )
    return mean, slope.astype(np.float64)


def landmarks_on(head: Head) -> Array:
    """Positions (N, 3) in mm of the used landmarks on a head as it is built."""
    template = load_template()
    corners = head.vertices_mm[head.triangles[template.landmark_triangle[USED_LANDMARKS]]]
    weights = template.landmark_weights[USED_LANDMARKS]
    return np.einsum("nc,nca->na", weights, corners).astype(np.float64)


def anchored_basis(triangle: NDArray[np.integer], weights: NDArray[np.floating]) -> PointBasis:
    """Points of the surface given by their triangles (N,) and weights (N, 3) of the corners."""
    template = load_template()
    corners = template.triangles[triangle]

    def anchored(field: NDArray[np.float32]) -> Array:
        places = np.einsum("nc,...nca->...na", weights, field[..., corners, :])
        return np.ascontiguousarray(places, dtype=np.float64)  # einsum leaves it strided

    shape_mm, expression_mm = anchored(template.shape_mm), anchored(template.expression_mm)
    in_sigmas = shape_mm * shape_sigma()[:, None, None]
    slope = np.concatenate([in_sigmas, expression_mm]).transpose(1, 2, 0)
    return PointBasis(
        mean_mm=anchored(template.vertices_mm),
        shape_mm=shape_mm,
        even_mm=anchored(template.even_mm),
        even_index=template.even_index,
        expression_mm=expression_mm,
        slope_mm=np.ascontiguousarray(slope),
    )
