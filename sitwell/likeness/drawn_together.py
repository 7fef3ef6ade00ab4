"""Several sitters in one drawing: each drawn from their own place, the nearer before the farther.

Every head is drawn as its own camera sees it from the shared lens; turning that camera to the
group's aim is a rotation about the lens, which moves points on the picture and nothing else.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes, rotation_from_pose
from sitwell.likeness.line_drawing import LineDrawing, ground_tone
from sitwell.likeness.vector_drawing import Drawing, Shape
from sitwell.scene.setup import Setup

Floats = NDArray[np.float64]
Window = tuple[float, float, float, float]

HALF_BODY_MM, AIR_MM = 420.0, 60.0  # to either side of a sitter, and above hair: drawn with them


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One sitter: their own set-up, and how far their level way to the lens is turned, degrees.

    ``bearing_deg`` is positive to camera right of the group's.
    """

    drawing: LineDrawing
    setup: Setup
    bearing_deg: float


def draw_together(
    standing: Sequence[Standing], lens_mm: Floats, window: Window, height_px: int
) -> Drawing:
    """The drawing of everybody; ``window`` is left, top, width, height in tangents.

    Tangents are those of a level camera at ``lens_mm`` (3,) in the group's frame, aimed at its
    origin.
    """
    _, _, wide, high = window
    scale = height_px / high
    width_px = round(scale * wide)
    axes = camera_axes(lens_mm, [0.0, 0.0, 0.0])
    shapes: list[Shape] = []
    for one in sorted(standing, key=lambda one: -one.setup.distance_mm):  # the farthest first
        shapes += _placed(one, axes, window, scale)
    grounds = [ground_tone(one.setup) for one in standing]  # each against their own lit cheek
    red, green, blue = np.round(np.mean(grounds, axis=0)).astype(int).tolist()
    return Drawing(
        width=width_px, height=height_px, ground=(red, green, blue), shapes=tuple(shapes)
    )


def _placed(one: Standing, axes: Floats, window: Window, scale: float) -> tuple[Shape, ...]:
    """One sitter's shapes where the group's picture has them."""
    left, top, _, high = window
    view = one.drawing.view(one.setup)
    x, y, depth = view.camera.project(view.posed_mm).T
    middle, near = 0.5 * float(x.min() + x.max()), float(depth.min())
    half, crown = HALF_BODY_MM / near, float(y.max()) + AIR_MM / near
    own = middle - half, crown, scale
    size_px = round(2.0 * half * scale), round((crown - float(y.mean()) + high) * scale)
    drawn = one.drawing.draw_in(view, own, *size_px)
    turned = rotation_from_pose(one.bearing_deg, 0.0, 0.0)
    own_axes = view.camera.axes

    def to_group(points: Floats) -> Floats:
        x, y = own[0] + points[:, 0] / scale, own[1] - points[:, 1] / scale
        ways = np.stack([x, y, -np.ones_like(x)], axis=1) @ own_axes @ turned.T @ axes.T
        across, up = ways[:, 0] / -ways[:, 2], ways[:, 1] / -ways[:, 2]
        return np.stack([(across - left) * scale, (top - up) * scale], axis=1)

    return drawn.moved(to_group)
