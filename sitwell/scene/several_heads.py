"""Several heads in one picture: each drawn from its own place, laid over one another by distance.

Every head is drawn as its own camera sees it from the shared lens; turning that camera to the
group's aim is a rotation about the lens, which moves pixels and nothing else. No head casts a
shadow on another here.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from sitwell.base.rotations import camera_axes, rotation_from_pose
from sitwell.scene.crop_check import Edges
from sitwell.scene.preview import Photograph, Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One head: its own set-up, and how far its level way to the lens is turned from the group's.

    ``bearing_deg`` is positive to camera right.
    """

    sculpture: Sculpture
    setup: Setup
    bearing_deg: float


def draw_together(
    standing: Sequence[Standing],
    lens_mm: Floats,
    window: tuple[float, float, float, float],
    height_px: int,
) -> Pixels:
    """The picture (H, W, 3) of everybody; ``window`` is left, top, width, height in tangents.

    Tangents are those of a level camera at ``lens_mm`` (3,) in the group's frame, aimed at its
    origin.
    """
    left, top, wide, high = window
    width_px = round(height_px * wide / high)
    x = left + (np.arange(width_px) + 0.5) * wide / width_px
    y = top - (np.arange(height_px) + 0.5) * high / height_px
    across, up = np.meshgrid(x, y)
    seen = np.stack([across, up, -np.ones_like(across)], axis=-1)
    ways = seen @ camera_axes(lens_mm, [0.0, 0.0, 0.0])
    farthest_first = sorted(standing, key=lambda one: -one.setup.distance_mm)
    picture, grounds = np.zeros(seen.shape), []
    open_share = np.ones(seen.shape[:2])  # how much of the background shows
    for one in farthest_first:
        # Enough pixels that the head's own drawing is no coarser than the picture.
        photo = one.sculpture.photograph(one.setup, height_px + height_px // 2, keep_tone=True)
        colours, cover = _laid(photo, ways, one.bearing_deg)
        picture += cover[..., None] * (colours - picture)
        open_share *= 1.0 - cover
        grounds.append(photo.rgb[0, 0])
    if grounds:  # each is lit against its own sitter's cheek: what all share lies between
        picture += open_share[..., None] * np.mean(grounds, axis=0)
    return np.round(picture).astype(np.uint8)


def edges_for(
    view: View, lens_mm: Floats, window: tuple[float, float, float, float], bearing_deg: float
) -> Edges:
    """Where the edges of the picture of everybody lie about one head; see ``draw_together``."""
    left, top, wide, high = window
    middle_x, middle_y = left + wide / 2.0, top - high / 2.0
    tangents = [(middle_x, top), (middle_x, top - high), (left, middle_y), (left + wide, middle_y)]
    ways = np.array([(x, y, -1.0) for x, y in tangents]) @ camera_axes(lens_mm, [0.0, 0.0, 0.0])
    mine = ways @ rotation_from_pose(bearing_deg, 0.0, 0.0) @ view.camera.axes.T
    across, up = mine[:, 0] / -mine[:, 2], mine[:, 1] / -mine[:, 2]
    unit, eyes = view.frame.face_height, float(view.frame.origin[1])
    return Edges(
        top=float(up[0] - eyes) / unit,
        bottom=float(up[1] - eyes) / unit,
        left=float(across[2]) / unit,
        right=float(across[3]) / unit,
    )


def _laid(photo: Photograph, ways: Floats, bearing_deg: float) -> tuple[Floats, Floats]:
    """A head's colours (H, W, 3) where the group's picture has them, and how much it covers."""
    turned = rotation_from_pose(bearing_deg, 0.0, 0.0)
    mine = ways @ turned @ photo.view.camera.axes.T
    left, top, scale = photo.window
    depth = -mine[..., 2]
    columns = (mine[..., 0] / depth - left) * scale - 0.5
    rows = (top - mine[..., 1] / depth) * scale - 0.5
    places = np.stack([rows, columns])
    cover = map_coordinates(photo.covered.astype(np.float64), places, order=1, cval=0.0)
    colours = np.stack(
        [
            map_coordinates(
                photo.rgb[..., channel].astype(np.float64), places, order=1, mode="nearest"
            )
            for channel in range(3)
        ],
        axis=-1,
    )
    return colours, cover
