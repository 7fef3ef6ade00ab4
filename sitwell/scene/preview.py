"""A calm shaded picture of a head in a set-up, for sheets and screens.

It shows what the measures count (pose, perspective, light, focus, crop, background tone), and
nothing of the sitter's colouring: matte clay, plain dark hair, a plain covered body.
"""

import numpy as np
from numpy.typing import NDArray

from sitwell.head.facing import to_vertices, vertex_normals
from sitwell.head.regions import Region
from sitwell.head.shading import LUMINANCE
from sitwell.head.surface import SIDES, Head
from sitwell.scene.anatomy import EYE_REGIONS, Anatomy
from sitwell.scene.bust import build_bust, bust_casters
from sitwell.scene.crop_measures import head_heights
from sitwell.scene.framing import aspect_ratio, picture_top_and_height
from sitwell.scene.key_maps import draw_maps
from sitwell.scene.preview_blur import blur_radii_px, spread_blur
from sitwell.scene.preview_light import plain_light, studio_light
from sitwell.scene.preview_shade import (
    BALL,
    COLOUR,
    FACETS,
    NORMAL,
    ON_RASTER,
    OPEN,
    PLACE,
    TRAITS,
    Near,
    Scene,
    shade,
)
from sitwell.scene.refine import refine
from sitwell.scene.setup import Setup
from sitwell.scene.shadow import fill_openness
from sitwell.scene.view import Observer, View

Floats = NDArray[np.float64]

SKIN = (0.56, 0.47, 0.41)
COLOURS: dict[Region, tuple[float, float, float]] = {
    Region.SCALP: (0.085, 0.075, 0.070),
    Region.BROW_OWN_LEFT: (0.17, 0.135, 0.115),
    Region.BROW_OWN_RIGHT: (0.17, 0.135, 0.115),
    Region.LIP_UPPER: (0.46, 0.31, 0.27),
    Region.LIP_LOWER: (0.49, 0.335, 0.295),
    Region.SOCKET: (0.16, 0.09, 0.08),
    Region.NOSTRIL_OWN_LEFT: (0.20, 0.13, 0.11),
    Region.NOSTRIL_OWN_RIGHT: (0.20, 0.13, 0.11),
    Region.WHITE_OWN_LEFT: (0.62, 0.60, 0.57),
    Region.WHITE_OWN_RIGHT: (0.62, 0.60, 0.57),
    Region.IRIS_OWN_LEFT: (0.62, 0.60, 0.57),
    Region.IRIS_OWN_RIGHT: (0.62, 0.60, 0.57),
}
GARMENT, GARMENT_OPEN = (0.10, 0.105, 0.115), 0.7
IRIS_COLOUR = (0.15, 0.135, 0.115)
PLAIN_LUMINANCE = float(np.dot(SKIN, LUMINANCE))
IRIS_RADIUS_MM, PUPIL_RADIUS_MM = 5.9, 1.9


def render(
    head: Head, setup: Setup, width_px: int, height_px: int, *, plain: bool = False
) -> NDArray[np.uint8]:
    """Picture (H, W, 3), sRGB, framed and cropped as the set-up says.

    The set-up's frame is fitted into the size asked for: where the shapes differ, more background
    shows. ``plain`` leaves key, shadows and background tone out. For many pictures of one head
    keep a Sculpture.
    """
    return Sculpture(head).render(setup, width_px, height_px, plain=plain)


class Sculpture:
    """A head prepared for pictures: colours, how open each part is to the fill, a body below."""

    def __init__(self, head: Head, *, plaster: bool = False) -> None:
        """``plaster`` gives the head one colour all over, so that it shows the light alone."""
        self._observer = Observer(head)
        anatomy = self._observer.anatomy
        bust, bust_triangles = build_bust(head)
        self._bust, self._skull_triangles = bust, anatomy.triangles
        count = len(anatomy.vertices_mm)
        normals = vertex_normals(anatomy.vertices_mm, anatomy.triangles)
        self._fine = refine(anatomy.vertices_mm, anatomy.triangles, normals)
        fine_count = count + len(self._fine.ends)
        self._triangles = np.concatenate([self._fine.triangles, bust_triangles + fine_count])
        self._casters = np.concatenate([anatomy.triangles, bust_casters() + count])
        of_region = np.tile(SKIN, (len(Region), 1)) if plaster else _colours()
        colours = to_vertices(anatomy.triangles, of_region[anatomy.region], count)
        openness = to_vertices(anatomy.triangles, fill_openness(anatomy)[:, None], count)
        self._traits = np.empty((fine_count + len(bust), TRAITS))
        self._traits[:fine_count, COLOUR:OPEN] = self._fine.spread(colours)
        self._traits[:fine_count, OPEN:ON_RASTER] = self._fine.spread(openness)
        self._traits[fine_count:, PLACE:NORMAL] = bust
        self._traits[fine_count:, NORMAL:COLOUR] = vertex_normals(bust, bust_triangles)
        garment = SKIN if plaster else GARMENT
        self._traits[fine_count:, COLOUR:ON_RASTER] = [*garment, GARMENT_OPEN]
        self._facets = np.zeros((len(self._triangles), FACETS), dtype=np.int32)
        self._facets[:, :BALL] = self._triangles
        self._facets[:, BALL] = -1
        skull = self._facets[: len(self._fine.triangles)]
        for eye, regions in enumerate(EYE_REGIONS):
            skull[np.repeat(np.isin(anatomy.region, regions), 4), BALL] = eye

    def render(
        self, setup: Setup, width_px: int, height_px: int, *, plain: bool = False
    ) -> NDArray[np.uint8]:
        """See the function of the same name."""
        view = self._observer.view(setup)
        window = picture_window(view, width_px, height_px)
        picture, nearness = _shaded(self._scene(view, window, plain=plain), width_px, height_px)
        if not plain:
            focus_mm = min(view.depth_mm(f"iris_{side}") for side in SIDES)
            radii = blur_radii_px(setup, focus_mm, nearness, window[2])
            spread_blur(picture, radii, nearness, CODED)
        return picture

    def render_in(
        self, view: View, window: tuple[float, float, float], width_px: int, height_px: int
    ) -> NDArray[np.uint8]:
        """What the last view shows in a window (see ``picture_window``), sharp all over."""
        return _shaded(self._scene(view, window), width_px, height_px)[0]

    def scene(self, setup: Setup, width_px: int, height_px: int) -> Scene:
        """What ``render`` is about to draw; valid until the next one."""
        view = self._observer.view(setup)
        return self.scene_in(view, picture_window(view, width_px, height_px))

    def scene_in(self, view: View, window: tuple[float, float, float]) -> Scene:
        """What ``render_in`` is about to draw; valid until the next view."""
        return self._scene(view, window)

    @property
    def openness(self) -> Floats:
        """How open each of the head's own vertices (V,) is to the fill."""
        return self._traits[: len(self.anatomy.vertices_mm), OPEN]

    @property
    def colours(self) -> Floats:
        """Linear colours (N, 3) of the finer surface's corners (see ``refine``), to paint over."""
        return self._traits[: len(self._traits) - len(self._bust), COLOUR:OPEN]

    @property
    def anatomy(self) -> Anatomy:
        """The head as it is prepared for measuring."""
        return self._observer.anatomy

    def view(self, setup: Setup) -> View:
        """The head posed before the set-up's camera, as the pictures show it."""
        return self._observer.view(setup)

    def _scene(
        self, view: View, window: tuple[float, float, float], *, plain: bool = False
    ) -> Scene:
        self._place(view, window)
        light = (
            plain_light(view.camera.lens_mm) if plain else studio_light(view.setup, PLAIN_LUMINANCE)
        )
        lamps, maps = draw_maps(
            np.concatenate([view.posed_mm, self._bust]),
            self._casters,
            view.eyes_mm,
            light.points_mm,
            light.strengths,
        )
        return Scene(
            triangles=self._triangles,
            facets=self._facets,
            traits=self._traits,
            balls=_balls(view),
            lamps=lamps,
            maps=maps,
            lens=view.camera.lens_mm,
            fill_share=light.fill_share,
            background=light.background,
            coded=CODED,
        )

    def _place(self, view: View, window: tuple[float, float, float]) -> None:
        """Note where each vertex stands, how it faces, and where the raster has it."""
        normals = self._fine.spread(vertex_normals(view.posed_mm, self._skull_triangles))
        places = self._fine.places(view.posed_mm, view.rotation)
        self._traits[: len(normals), PLACE:NORMAL] = places
        self._traits[: len(normals), NORMAL:COLOUR] = normals
        x, y, depth = view.camera.project(self._traits[:, PLACE:NORMAL]).T
        left, top, scale = window
        self._traits[:, ON_RASTER] = 2.0 * (x - left) * scale
        self._traits[:, ON_RASTER + 1] = 2.0 * (top - y) * scale
        self._traits[:, ON_RASTER + 2] = 1.0 / depth


def _shaded(scene: Scene, width_px: int, height_px: int) -> tuple[NDArray[np.uint8], Near]:
    """The picture (H, W, 3), all of it sharp, and its nearness (H, W)."""
    picture = np.empty((height_px, width_px, 3), dtype=np.uint8)
    nearness = np.empty((height_px, width_px), dtype=np.float32)
    shade(scene, picture, nearness)
    return picture, nearness


def picture_window(view: View, width_px: int, height_px: int) -> tuple[float, float, float]:
    """Left and top edge of the picture in tangents, and pixels per unit of tangent."""
    heights = head_heights(view)
    top, height = picture_top_and_height(heights, view.setup, view.frame.unit_per_mm)
    unit = view.frame.face_height
    top, height = view.frame.origin[1] + top * unit, height * unit
    width = height / aspect_ratio(view.setup.aspect)
    scale = min(height_px / height, width_px / width)
    x = view.camera.project(view.posed_mm[view.anatomy.framed_vertices])[:, 0]
    middle = 0.5 * float(x.min() + x.max())
    top += 0.5 * (height_px / scale - height)
    return middle - 0.5 * width_px / scale, top, scale


def _balls(view: View) -> Floats:
    """Rows for ``shade``: centre, gaze, iris and pupil radius, iris colour, of each eye."""
    rows = []
    for eye, side in zip(view.anatomy.eyes, SIDES, strict=True):
        centre = view.studio_from_head(eye.centre_mm)
        gaze = view.point_mm(f"iris_{side}") - centre
        gaze /= np.linalg.norm(gaze)
        rows.append([*centre, *gaze, IRIS_RADIUS_MM, PUPIL_RADIUS_MM, *IRIS_COLOUR])
    return np.array(rows)


def _colours() -> Floats:
    """Colour (37, 3) of each region."""
    return np.array([COLOURS.get(region, SKIN) for region in Region])


def _coded() -> NDArray[np.uint8]:
    """sRGB of evenly spaced light: fine enough that no byte is off by more than rounding."""
    light = np.linspace(0.0, 1.0, 65536)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(255.0 * coded).astype(np.uint8)


CODED = _coded()
