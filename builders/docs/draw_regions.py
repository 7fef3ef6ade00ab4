"""Draws the painted regions of the mean head for docs/head.md.

``python -m builders.docs.draw_regions``. Front, three-quarter, side and below, flat light, one
colour a region, with a legend.
"""

import colorsys
from pathlib import Path

import numpy as np
from embreex import rtcore_scene
from embreex.mesh_construction import TriangleMesh
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.regions import Region
from sitwell.head.surface import Head, build_head

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
SIDE_PX = 560
# name, turn, chin, centre in the head frame, half the picture's width: degrees and mm
VIEWS = (
    ("front", 0.0, 0.0, (0.0, -12.0, 0.0), 130.0),
    ("three-quarter", -40.0, 0.0, (10.0, -12.0, -30.0), 130.0),
    ("side", -85.0, 0.0, (0.0, -12.0, -70.0), 130.0),
    ("below, chin up", 0.0, 45.0, (0.0, -60.0, 0.0), 75.0),
    ("nose", 0.0, 15.0, (0.0, -28.0, 20.0), 45.0),
    ("own left eye", -15.0, 0.0, (31.0, 2.0, 8.0), 34.0),
)
HUE_STEP = 0.381966  # the golden angle keeps neighbours in the list far apart in hue


def main() -> None:
    """Writes docs/pictures/head_regions.png."""
    head = build_head()
    colours = region_colours()
    sheet = Image.new("RGB", (3 * SIDE_PX + 300, 2 * SIDE_PX), "white")
    for place, (name, turn, chin, centre, half) in enumerate(VIEWS):
        view = draw(head, colours, turn, chin, np.array(centre), half)
        ImageDraw.Draw(view).text((12, 10), name, fill="white", font_size=24)
        sheet.paste(view, (place % 3 * SIDE_PX, place // 3 * SIDE_PX))
    _legend(sheet, colours)
    PICTURES.mkdir(parents=True, exist_ok=True)
    sheet.save(PICTURES / "head_regions.png", optimize=True)


def region_colours() -> NDArray[np.float64]:
    """One colour (R, 3), 0..255, for each region; own right is the darker of a pair."""
    stems = list(dict.fromkeys(_stem(region) for region in Region))
    colours = np.zeros((len(Region), 3))
    for region in Region:
        place = stems.index(_stem(region))
        bright = 0.6 if region.name.endswith("_OWN_RIGHT") else 0.97
        hue = place * HUE_STEP % 1.0
        colours[region] = colorsys.hsv_to_rgb(hue, (0.85, 0.4, 0.65)[place % 3], bright)
    colours[Region.SOCKET] = 0.08
    return colours * 255.0


def _stem(region: Region) -> str:
    return region.name.partition("_OWN_")[0]


def draw(
    head: Head,
    colours: NDArray[np.float64],
    turn_deg: float,
    chin_deg: float,
    centre_mm: NDArray[np.float64],
    half_mm: float,
) -> Image.Image:
    """The posed head from far away (parallel rays), SIDE_PX square."""
    turned = rotation_from_pose(turn_deg, chin_deg, 0.0)
    vertices = (head.vertices_mm - centre_mm) @ turned.T
    corners = vertices[head.triangles]
    scene = rtcore_scene.EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(corners, dtype=np.float32))
    across = ((np.arange(SIDE_PX) + 0.5) / SIDE_PX * 2.0 - 1.0) * half_mm
    x, y = np.meshgrid(across, -across)
    starts = np.stack([x, y, np.full_like(x, 900.0)], axis=-1).reshape(-1, 3).astype(np.float32)
    rays = np.tile(np.array([0.0, 0.0, -1.0], dtype=np.float32), (len(starts), 1))
    struck = scene.run(starts, rays)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-9)
    light = np.array([0.3, 0.4, 0.87])
    shade = 0.45 + 0.55 * np.abs(normals @ light)
    pixels = np.full((len(starts), 3), 45.0)
    seen = struck >= 0
    pixels[seen] = (colours[head.region_of_triangle] * shade[:, None])[struck[seen]]
    return Image.fromarray(pixels.reshape(SIDE_PX, SIDE_PX, 3).clip(0, 255).astype(np.uint8))


def _legend(sheet: Image.Image, colours: NDArray[np.float64]) -> None:
    pen = ImageDraw.Draw(sheet)
    for row, region in enumerate(Region):
        top, left = 6 + row * 30, 3 * SIDE_PX + 16
        pen.rectangle((left, top, left + 26, top + 22), fill=tuple(colours[region].astype(int)))
        words = region.name.lower().replace("_", " ")
        pen.text((left + 36, top), words, fill="black", font_size=18)


if __name__ == "__main__":
    main()
