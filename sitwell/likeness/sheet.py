"""What lies outside of the shell: wisps, long hair and clothes, on a sheet behind the head.

Around the head the sheet goes with the shell's outline: what stands so far beyond it in the
photograph stands as far beyond it in the picture, at the same angle. Downward from the jaw it
passes into the neck's root and the shoulders, which stay.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from sitwell.likeness.aspect import Aspect
from sitwell.likeness.outline import ANGLES, Around, at_angle
from sitwell.likeness.plate import Plate, shoulders_fall_mm

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Pixels = NDArray[np.uint8]

STEP_PX = 8  # of the picture: between them the way into the plate is straight
WIDEN_DEG, SMOOTH_DEG = 5, 1.5
PASSES_OVER = 1.15  # of the way from the chin to the neck's root, on which head becomes shoulders


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a picture has the head: as ``Aspect`` says it of a plate, and the chin (2,)."""

    middle: Floats
    root: Floats
    chin: Floats
    radii: Floats
    up: Floats
    px_per_mm: float
    root_px_per_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The sheet in a picture: colours (H, W, 3), sRGB, share (H, W), and what was photographed."""

    rgb: Pixels
    alpha: Pixels
    photographed: Pixels


def lay_sheet(aspect: Aspect, stands: Standing, height: int, width: int) -> Sheet:
    """The frame's sheet where the picture has the head."""
    rows, columns = -(-height // STEP_PX) + 1, -(-width // STEP_PX) + 1
    x, y = np.meshgrid(np.arange(columns) * STEP_PX, np.arange(rows) * STEP_PX)
    places = np.stack([x, y], axis=-1).reshape(-1, 2).astype(np.float64) + 0.5
    with_head, with_body = _by_head(aspect, stands, places), _by_body(aspect, stands, places)
    drop = (places[:, 1] - stands.chin[1]) / max(
        PASSES_OVER * (stands.root[1] - stands.chin[1]), 1.0
    )
    drop = np.clip(drop, 0.0, 1.0)
    share = (drop * drop * (3.0 - 2.0 * drop))[:, None]
    source = (with_head * (1.0 - share) + with_body * share - 0.5).astype(np.float32)
    field = source.reshape(rows, columns, 2)
    size = (columns * STEP_PX, rows * STEP_PX)
    # resized so that the field's own points keep their places
    matrix = np.array([[1.0 / STEP_PX, 0.0, 0.0], [0.0, 1.0 / STEP_PX, 0.0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    ways = cv2.warpAffine(field, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    across = np.array(ways[:height, :width, 0], dtype=np.float32)
    down = np.array(ways[:height, :width, 1], dtype=np.float32)
    plate = aspect.plate
    left, top, right, bottom = plate.photo
    inside = (across > left - 1) & (across < right) & (down > top - 1) & (down < bottom)
    chin = min(max(int(stands.chin[1]), 0), height)
    _carry_on(across[chin:], down[chin:], plate, aspect.px_per_mm)
    rgb = cv2.remap(plate.rgb, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    alpha = cv2.remap(plate.alpha, across, down, cv2.INTER_LINEAR)
    return Sheet(
        rgb=np.asarray(rgb),
        alpha=np.asarray(alpha),
        photographed=np.asarray(inside, dtype=np.uint8),
    )


def _carry_on(across: Singles, down: Singles, plate: Plate, px_per_mm: float) -> None:
    """Shoulders go on, falling ever steeper, where the photograph cuts them at its sides.

    ``across`` and ``down`` (H, W) lead into the plate and are changed: a place beyond an edge takes
    what lies higher up at the edge.
    """
    left, _, right, _ = plate.photo
    for beyond, edge, edge_mm in (
        (across < left, left, plate.beside_mm[0]),
        (across > right - 1, right - 1, plate.beside_mm[1]),
    ):
        over_mm = np.abs(across[beyond] - edge).astype(np.float64) / px_per_mm
        fallen_mm = shoulders_fall_mm(edge_mm + over_mm) - shoulders_fall_mm(np.array(edge_mm))
        down[beyond] -= px_per_mm * fallen_mm
        across[beyond] = edge


def _by_head(aspect: Aspect, stands: Standing, places: Floats) -> Floats:
    radius, bins, _ = Around(middle=stands.middle).polar(places)
    leans = np.arctan2(stands.up[1], stands.up[0]) - np.arctan2(aspect.up[1], aspect.up[0])
    there = (bins - np.degrees(leans) * ANGLES / 360.0) % ANGLES
    scale = aspect.px_per_mm / stands.px_per_mm
    mine, theirs = at_angle(_around(stands.radii), bins), at_angle(_around(aspect.radii), there)
    mine = np.maximum(mine, 1.0)
    inner = np.minimum(radius / mine, 1.0) * theirs
    reach = inner + np.maximum(radius - mine, 0.0) * scale
    angle = there * 2.0 * np.pi / ANGLES
    return aspect.middle + reach[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _around(radii: Floats) -> Floats:
    """An outline without notches, so that an ear is never taken for what lies beyond the head."""
    wide = maximum_filter1d(radii, WIDEN_DEG, mode="wrap")
    return np.asarray(gaussian_filter1d(wide, SMOOTH_DEG, mode="wrap"))


def _by_body(aspect: Aspect, stands: Standing, places: Floats) -> Floats:
    scale = aspect.root_px_per_mm / stands.root_px_per_mm
    return np.asarray(aspect.root + (places - stands.root) * scale)
