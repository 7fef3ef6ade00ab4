"""Several sitters in one picture, each from their own place, the nearer before the farther.

Each is shown as their own camera sees them from the shared lens, by their likeness or drawn;
turning that camera to the group's aim is a rotation about the lens, which moves points on the
picture and nothing else.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes, rotation_from_pose
from sitwell.head.shading import linear_from_srgb
from sitwell.likeness.around import Window
from sitwell.likeness.likened import CutOut
from sitwell.likeness.likeness import Likeness
from sitwell.likeness.line_drawing import LineDrawing, ground_tone
from sitwell.likeness.vector_drawing import Drawing, Shape, paint
from sitwell.scene.preview import CODED
from sitwell.scene.setup import Setup
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

HALF_BODY_MM, AIR_MM = 420.0, 60.0  # to either side of a sitter, and above hair: shown with them


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One sitter: their own set-up, and how far their level way to the lens is turned, degrees.

    ``bearing_deg`` is positive to camera right of the group's; without a ``likeness`` they are
    drawn.
    """

    drawing: LineDrawing
    setup: Setup
    bearing_deg: float
    likeness: Likeness | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A group's picture: ``window`` is left, top, width and height in tangents.

    Tangents are those of a level camera at ``lens_mm`` (3,) in the group's frame, aimed at its
    origin.
    """

    lens_mm: Floats
    window: tuple[float, float, float, float]
    height_px: int

    @property
    def scale(self) -> float:
        """Pixels for a tangent."""
        return self.height_px / self.window[3]

    @property
    def width_px(self) -> int:
        """As wide as the window."""
        return round(self.scale * self.window[2])


def draw_together(standing: Sequence[Standing], scene: Scene) -> Drawing:
    """The drawing of everybody."""
    shapes = [shape for one in _farthest_first(standing) for shape in _drawn(one, scene)]
    grounds = [ground_tone(one.setup) for one in standing]  # each against their own lit cheek
    red, green, blue = np.round(np.mean(grounds, axis=0)).astype(int).tolist()
    return Drawing(
        width=scene.width_px,
        height=scene.height_px,
        ground=(red, green, blue),
        shapes=tuple(shapes),
    )


def show_together(standing: Sequence[Standing], scene: Scene) -> Pixels:
    """The picture (H, W, 3) of everybody, sharp all over; one of them at least has a likeness."""
    ordered = _farthest_first(standing)
    shown = [_cut_out(one, scene) for one in ordered]
    ground = np.mean([cut.ground for cut in shown if cut is not None], axis=0)
    light = np.broadcast_to(ground, (scene.height_px, scene.width_px, 3))
    for one, cut in zip(ordered, shown, strict=True):
        if cut is None:
            pixels = _coded(light)
            paint(pixels, _drawn(one, scene))
            light = linear_from_srgb(pixels)
        else:
            light = cut.light + (1.0 - cut.cover[..., None]) * light
    return _coded(light)


def _farthest_first(standing: Sequence[Standing]) -> list[Standing]:
    return sorted(standing, key=lambda one: -one.setup.distance_mm)


def _coded(light: Floats) -> Pixels:
    return CODED[np.round(np.clip(light, 0.0, 1.0) * (len(CODED) - 1)).astype(np.int64)]


def _drawn(one: Standing, scene: Scene) -> tuple[Shape, ...]:
    """One sitter's shapes where the group's picture has them."""
    view = one.drawing.view(one.setup)
    own, size_px = _own_picture(view, scene)
    drawn = one.drawing.draw_in(view, own, *size_px)
    return drawn.moved(_to_group(view, own, one.bearing_deg, scene))


def _cut_out(one: Standing, scene: Scene) -> CutOut | None:
    """One sitter's likeness where the group's picture has it; None where they are drawn."""
    if one.likeness is None:
        return None
    view = one.likeness.view(one.setup)
    own, size_px = _own_picture(view, scene)
    to_group = _to_group(view, own, one.bearing_deg, scene)
    cut = one.likeness.cut_out(view, own, *size_px)
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size_px
    # a warp counts from the middle of the first pixel, a picture's places from its corner
    own_px, there_px = ((at - 0.5).astype(np.float32) for at in (corners, to_group(corners)))
    matrix = cv2.getPerspectiveTransform(own_px, there_px)
    size = (scene.width_px, scene.height_px)
    return CutOut(
        light=np.asarray(cv2.warpPerspective(cut.light, matrix, size), dtype=np.float64),
        cover=np.asarray(cv2.warpPerspective(cut.cover, matrix, size), dtype=np.float32),
        ground=cut.ground,
    )


def _own_picture(view: View, scene: Scene) -> tuple[Window, tuple[int, int]]:
    """The window and size in pixels of a sitter's own picture, from above their hair down."""
    x, y, depth = view.camera.project(view.posed_mm).T
    middle, near = 0.5 * float(x.min() + x.max()), float(depth.min())
    half, crown = HALF_BODY_MM / near, float(y.max()) + AIR_MM / near
    size_px = (
        round(2.0 * half * scene.scale),
        round((crown - float(y.mean()) + scene.window[3]) * scene.scale),
    )
    return (middle - half, crown, scene.scale), size_px


def _to_group(
    view: View, own: Window, bearing_deg: float, scene: Scene
) -> Callable[[Floats], Floats]:
    """Where the group's picture has points (N, 2) of a sitter's own."""
    turned = rotation_from_pose(bearing_deg, 0.0, 0.0)
    own_axes, axes = view.camera.axes, camera_axes(scene.lens_mm, [0.0, 0.0, 0.0])
    left, top, *_ = scene.window

    def to_group(points: Floats) -> Floats:
        x, y = own[0] + points[:, 0] / own[2], own[1] - points[:, 1] / own[2]
        ways = np.stack([x, y, -np.ones_like(x)], axis=1) @ own_axes @ turned.T @ axes.T
        across, up = ways[:, 0] / -ways[:, 2], ways[:, 1] / -ways[:, 2]
        return np.stack([(across - left) * scene.scale, (top - up) * scene.scale], axis=1)

    return to_group
