"""A drawing as flat shapes painted one over another: as SVG, as pixels, and moved as a whole."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Tone = tuple[int, int, int]
Pixels = NDArray[np.uint8]

FINER = 3  # shapes are painted on pixels so much finer, and then gathered
BITS = 4  # of a pixel's fraction
GIVE_PX = 0.08  # by which a file's outlines may leave their shapes'


@dataclass(frozen=True, slots=True)
class Shape:
    """Closed rings (N, 2), x to the right and y down, filled where an odd number overlaps."""

    rings: tuple[Floats, ...]
    tone: Tone
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Shapes in the order in which they are painted, on ``ground`` of ``width`` by ``height``."""

    width: float
    height: float
    ground: Tone
    shapes: tuple[Shape, ...]

    def moved(self, way: Callable[[Floats], Floats]) -> tuple[Shape, ...]:
        """The shapes with every point (N, 2) where ``way`` puts it."""
        return tuple(
            replace(shape, rings=tuple(way(ring) for ring in shape.rings)) for shape in self.shapes
        )

    def svg(self) -> str:
        """The drawing as an SVG file, without a size of its own: it fills what it is put into."""
        wide, high = f"{self.width:g}", f"{self.height:g}"
        parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}">'
            f'<path fill="{_hex(self.ground)}" d="M0 0h{wide}v{high}H0z"/>'
        ]
        for shape in self.shapes:
            outline = "".join(_path(ring) for ring in shape.rings)
            seen = "" if shape.opacity >= 1.0 else f' fill-opacity="{shape.opacity:g}"'
            rule = "" if len(shape.rings) == 1 else ' fill-rule="evenodd"'
            parts.append(f'<path fill="{_hex(shape.tone)}"{seen}{rule} d="{outline}"/>')
        return "".join([*parts, "</svg>"])

    def pixels(self) -> Pixels:
        """The drawing (H, W, 3), sRGB."""
        canvas = np.full((round(self.height), round(self.width), 3), self.ground, dtype=np.uint8)
        paint(canvas, self.shapes)
        return canvas


def paint(canvas: Pixels, shapes: Iterable[Shape]) -> None:
    """Paint shapes in their order on a canvas (H, W, 3)."""
    for shape in shapes:
        _fill(canvas, shape)


def _fill(canvas: Pixels, shape: Shape) -> None:
    """Paint a shape, touching no more of the canvas than it lies on."""
    low = np.floor(np.min([ring.min(axis=0) for ring in shape.rings], axis=0)).astype(int) - 1
    high = np.ceil(np.max([ring.max(axis=0) for ring in shape.rings], axis=0)).astype(int) + 2
    left, top = np.maximum(low, 0)
    right, bottom = np.minimum(high, (canvas.shape[1], canvas.shape[0]))
    if left >= right or top >= bottom:
        return
    # the painter counts from the middle of the first pixel, a drawing from its corner
    off = np.array((left, top)) + 0.5 / FINER
    corners = [np.round((ring - off) * FINER * 2**BITS).astype(np.int32) for ring in shape.rings]
    fine = np.zeros((FINER * (bottom - top), FINER * (right - left)), dtype=np.uint8)
    cv2.fillPoly(fine, corners, 255, cv2.LINE_8, BITS)
    size = int(right - left), int(bottom - top)
    cover = cv2.resize(fine, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    cover = cover[..., None] * (shape.opacity / 255.0)
    part = canvas[top:bottom, left:right]
    part[:] = np.round(part + cover * (np.array(shape.tone, dtype=np.float32) - part))


def _path(ring: Floats) -> str:
    few = cv2.approxPolyDP(ring.astype(np.float32)[:, None], GIVE_PX, closed=True)[:, 0]
    points = np.round(10.0 * few).astype(int)
    steps = " ".join(f"{x / 10:g} {y / 10:g}" for x, y in np.diff(points, axis=0).tolist())
    return f"M{points[0][0] / 10:g} {points[0][1] / 10:g}l{steps}z"


def _hex(tone: Tone) -> str:
    return "#" + "".join(f"{part:02x}" for part in tone)
