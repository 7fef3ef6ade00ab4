"""A sitter's likeness: made once from their frames, then a picture of it for each set-up.

It lives in memory only and is in no record; it goes with the reading that it was made from.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import PhotoError
from sitwell.base.rotations import rotation_from_pose
from sitwell.base.words import tr
from sitwell.head.facing import vertex_normals
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.shading import LUMINANCE, linear_from_srgb
from sitwell.head.surface import SIDES, Head
from sitwell.likeness.around import Window, around_head, behind
from sitwell.likeness.aspect import Aspect, aspects_of, middle_of, upright
from sitwell.likeness.believed import believed_deg, is_believable
from sitwell.likeness.body import Body, body_of, posed, with_mouth
from sitwell.likeness.catchlights import put_in, without_catchlights
from sitwell.likeness.colours import Filler
from sitwell.likeness.compose import (
    ENDS,
    FIRST,
    FIRST_BY,
    KNOWN,
    OWN,
    RASTER,
    ROW,
    SECOND,
    SECOND_BY,
    SOLID,
    compose,
)
from sitwell.likeness.drawn import draw
from sitwell.likeness.gazes import fine_eyes, lens_of_setup, turned
from sitwell.likeness.likened import CutOut, Likened, Reach, angle_deg
from sitwell.likeness.outline import Around, last
from sitwell.likeness.relight import hardness_stops, share_laid_on, stops
from sitwell.likeness.sheet import Standing, lay_sheet
from sitwell.scene.key_maps import lights_at
from sitwell.scene.preview import PLAIN_LUMINANCE, Sculpture, picture_window
from sitwell.scene.preview_blur import blur_radii_px, spread_blur
from sitwell.scene.preview_light import KEY_POINTS, exposure
from sitwell.scene.preview_shade import COLOUR, NORMAL, OPEN, PLACE, Scene
from sitwell.scene.refine import Refinement, refine
from sitwell.scene.setup import Setup
from sitwell.scene.skin_tone import middle_of_face
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Singles = NDArray[np.float32]

OWN_VIEW_DEG = 10.0  # so near a frame's own view its pixels count up to its outlines
EYES_FROM = 0.5  # of the planned light laid on: less, and eyes keep the photograph's
HARD_LIT = 0.5  # of the planned light laid on: less, and the photograph's own is told as hard
SHEET_BEHIND_MM = 30.0  # the middle of the head
_LINEAR = linear_from_srgb(np.arange(256, dtype=np.uint8)).astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """One set-up seen: the vertices (N, ...) in the picture, and the light on them.

    ``ground`` (3,) is the planned background's light behind the sitter.
    """

    view: View
    window: Window
    scene: Scene
    raster: Floats
    new_light: Floats
    ground: Floats
    away_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """A picture (H, W, 3), sharp all over, and what ``compose`` tells of it."""

    pixels: NDArray[np.uint8]
    nearness: Singles
    cover: Singles
    made_up_share: float


class Likeness:
    """Pictures of one sitter; it holds what their frames showed, and can be sent between processes.

    ``files`` names the frames that it is made from, ``believed_deg`` how far from the nearest one
    a picture can be believed; ``hardness_stops`` is how hard the light is in each.
    """

    def __init__(
        self,
        head: Head,
        sculpture: Sculpture,
        fine: Refinement,
        body: Body,
        aspects: Sequence[Aspect],
    ) -> None:
        self._sculpture, self._head, self._body = sculpture, head, body
        self._pivot = head.neck_pivot_mm.astype(np.float64)
        self._eyes = fine_eyes(head, body, fine)
        self._aspects, filler = tuple(aspects), Filler(head, body, fine)
        self._colours = tuple(filler.colours(each) for each in aspects)
        self._matched = {
            (i, j): filler.matched(one, self._colours[i], other, self._colours[j])
            for i, one in enumerate(aspects)
            for j, other in enumerate(aspects)
            if i != j
        }
        self._middle = np.flatnonzero(
            middle_of_face(
                head.vertices_mm.astype(np.float64), head.triangles, head.region_of_triangle
            )
        )
        self.files = tuple(each.file for each in aspects)
        self.hardness_stops = tuple(
            hardness_stops(head, colours.near, each.seen)
            for each, colours in zip(aspects, self._colours, strict=True)
        )
        self._aspects = tuple(
            replace(each, plate=replace(each.plate, rgb=_clear_eyes(each)))
            if self._relights_eyes(place)
            else each
            for place, each in enumerate(aspects)
        )
        self.believed_deg = believed_deg(body, aspects, self._colours)

    def picture(
        self, setup: Setup, width_px: int, height_px: int, *, tell_made_up: bool = False
    ) -> Likened:
        """The sitter in a set-up, framed and cropped as ``Sculpture.render`` does.

        ``tell_made_up`` hatches what no frame has shown. Ask ``reach`` first whether the picture
        can be believed.
        """
        view = self._sculpture.view(setup)
        window = picture_window(view, width_px, height_px)
        reach = self.reach(setup)
        look = self._look(view, window, reach)
        falls = behind(view, window, width_px, height_px)
        laid = self._laid(look, reach.nearest, look.ground, falls, tell_made_up)
        focus_mm = min(view.depth_mm(f"iris_{side}") for side in SIDES)
        radii = blur_radii_px(setup, focus_mm, laid.nearness, window[2])
        spread_blur(laid.pixels, radii, laid.nearness, look.scene.coded)
        return Likened(pixels=laid.pixels, made_up_share=laid.made_up_share)

    def view(self, setup: Setup) -> View:
        """The head posed before the set-up's camera; valid until the next look."""
        return self._sculpture.view(setup)

    def cut_out(self, view: View, window: Window, width_px: int, height_px: int) -> CutOut:
        """The sitter alone as the last view has them in a window, sharp all over."""
        reach = self.reach(view.setup)
        look = self._look(view, window, reach)
        none = np.zeros((height_px, width_px), dtype=np.float32)
        laid = self._laid(look, reach.nearest, np.zeros(3), none, False)
        return CutOut(light=_LINEAR[laid.pixels], cover=laid.cover, ground=look.ground)

    def reach(self, setup: Setup) -> Reach:
        """How far a set-up's view is from the frames, without making a picture."""
        rotation = rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)
        toward = lens_of_setup(setup, self._pivot, rotation)
        toward /= np.linalg.norm(toward)
        away = [angle_deg(toward, each.toward) for each in self._aspects]
        nearest = int(np.argmin(away))
        return Reach(
            nearest=nearest,
            from_frame_deg=away[nearest],
            believable=is_believable(
                self.believed_deg[nearest], away[nearest], self._aspects[nearest].toward, toward
            ),
            hard_lit=share_laid_on(self.hardness_stops[nearest]) < HARD_LIT,
        )

    def _look(
        self,
        view: View,
        window: Window,
        reach: Reach,
    ) -> _Look:
        setup, aspect = view.setup, self._aspects[reach.nearest]
        scene = self._sculpture.scene_in(view, window)
        lens_now = lens_of_setup(setup, self._pivot, view.rotation)
        level = turned(aspect.level_mm, self._eyes, aspect.looks_at_mm, lens_now, setup)
        studio = posed(self._body, level, self._pivot, view.rotation, setup.chin_forward_mm)
        x, y, depth = view.camera.project(studio).T
        left, top, scale = window
        raster = np.stack([2.0 * (x - left) * scale, 2.0 * (top - y) * scale, 1.0 / depth], axis=1)
        traits = scene.traits[: len(level) - 1]
        normals = traits[:, NORMAL:COLOUR]
        normals = normals / np.linalg.norm(normals, axis=1, keepdims=True)
        fill = scene.fill_share * traits[:, OPEN]
        places = np.ascontiguousarray(traits[:, PLACE:NORMAL])
        key = lights_at(places, normals, scene.lamps[:KEY_POINTS], scene.maps)
        rest = 0.0
        if len(scene.lamps) > KEY_POINTS:
            rest = lights_at(places, normals, scene.lamps[KEY_POINTS:], scene.maps[KEY_POINTS:])
        lit = (key + fill)[self._head.triangles[self._middle]].mean(axis=1)
        exposed = exposure(lit, view.visible[self._middle])
        tone = float(self._colours[reach.nearest].tone @ LUMINANCE) / PLAIN_LUMINANCE
        return _Look(
            view=view,
            window=window,
            scene=scene,
            raster=raster,
            new_light=with_mouth(self._body, exposed * (key + rest + fill)),
            ground=scene.background * exposed * tone,
            away_deg=reach.from_frame_deg,
        )

    def _laid(
        self, look: _Look, nearest: int, ground: Floats, falls: Singles, hatched: bool
    ) -> _Laid:
        """The picture before ``ground`` (3,), light that ``falls`` off so (H, W)."""
        height, width = falls.shape
        body, aspect, colours = self._body, self._aspects[nearest], self._colours[nearest]
        shown, near = draw(
            look.raster[:, :2], look.raster[:, 2], body.triangles, 2 * height, 2 * width
        )
        share = share_laid_on(self.hardness_stops[nearest])
        by = 2.0 ** stops(body, look.new_light, aspect.light, colours.hair, share)
        seen = self._seen(look, nearest)
        second = self._second(seen, nearest)
        rows = self._rows(look, nearest, second, seen, by)
        stands = self._stands(look, shown, width, height)
        sheet = lay_sheet(aspect, stands, height, width)
        other = self._aspects[second if second is not None else nearest].plate
        picture = np.empty((height, width, 3), dtype=np.uint8)
        nearness, cover = (np.empty((height, width), dtype=np.float32) for _ in range(2))
        depth_mm = float(np.median(1.0 / look.raster[:, 2])) + SHEET_BEHIND_MM
        made_up = compose(
            shown,
            near,
            body.triangles,
            rows,
            aspect.plate.rgb,
            aspect.plate.alpha,
            other.rgb,
            _LINEAR,
            sheet.rgb,
            sheet.alpha,
            sheet.photographed,
            around_head(shown, body.triangles, by),
            1.0 / depth_mm,
            ground,
            falls,
            hatched,
            look.scene.coded,
            picture,
            nearness,
            cover,
        )
        if self._relights_eyes(nearest):
            eyes = np.append(body.of_eye[body.triangles].all(axis=1), False)
            put_in(picture, look.scene, look.view.camera, look.window, shown[::2, ::2], eyes)
        return _Laid(
            pixels=picture,
            nearness=nearness,
            cover=cover,
            made_up_share=made_up / max(float(cover.sum()), 1.0),
        )

    def _relights_eyes(self, place: int) -> bool:
        """Whether a frame's eyes take the planned key's catchlight."""
        laid_on = share_laid_on(self.hardness_stops[place]) > EYES_FROM
        return laid_on and "glasses" not in self._aspects[place].obscured

    def _seen(self, look: _Look, nearest: int) -> Floats:
        """How well the nearest frame shows each vertex (N,): near its own view, all it shows."""
        aspect = self._aspects[nearest]
        alike = max(0.0, 1.0 - look.away_deg / OWN_VIEW_DEG)
        return aspect.seen + alike * (aspect.shown - aspect.seen)

    def _second(self, seen: Floats, nearest: int) -> int | None:
        """The frame that shows most of what the nearest one does not; None where none does."""
        missing = 1.0 - seen
        gains = [float(missing @ each.seen) for each in self._aspects]
        gains[nearest] = 0.0
        best = int(np.argmax(gains))
        return best if gains[best] > 1.0 else None

    def _rows(
        self, look: _Look, nearest: int, second: int | None, seen: Floats, by: Floats
    ) -> Floats:
        """The vertices (N, ROW) as ``compose`` takes them."""
        body, aspect, colours = self._body, self._aspects[nearest], self._colours[nearest]
        rows = np.zeros((len(look.raster), ROW))
        rows[:, RASTER:FIRST] = look.raster
        rows[:, FIRST:FIRST_BY] = aspect.at
        left = 1.0 - seen
        if second is not None:
            other = self._aspects[second]
            rows[:, SECOND:SECOND_BY] = other.at
            share = left * other.seen
            rows[:, SECOND_BY:OWN] = (share * by)[:, None] * self._matched[nearest, second]
            left = left - share
        known = 1.0 - left
        detail = left * colours.detail
        if second is None:
            rows[:, SECOND:SECOND_BY] = colours.piece_at
            share = (left - detail) * colours.piece_share
            rows[:, SECOND_BY:OWN] = (share * by)[:, None] * colours.piece_gain
            left = left - share
        rows[:, FIRST_BY:SECOND] = by[:, None] * (seen[:, None] + detail[:, None] * colours.gain)
        rows[:, OWN:SOLID] = (by * (left - detail))[:, None] * colours.fill
        rows[:, SOLID], rows[:, ENDS] = body.solid, aspect.ends
        rows[:, KNOWN] = known
        return rows

    def _stands(self, look: _Look, shown: Ints, width: int, height: int) -> Standing:
        body, view, scale = self._body, look.view, look.window[2]
        places, depth = 0.5 * look.raster[:, :2], 1.0 / look.raster[:, 2]
        middle = middle_of(body, places)
        root = body.follow < 0.05
        small = shown[::2, ::2]
        inside = (small >= 0) & body.of_head[small]
        chin = view.camera.project(view.point_mm("chin"))
        at_chin = np.array([(chin[0] - look.window[0]) * scale, (look.window[1] - chin[1]) * scale])
        skull = ~body.of_neck
        seen = view.studio_from_head(self._head.vertices_mm.mean(axis=0)) - view.camera.lens_mm
        return Standing(
            middle=middle,
            root=places[root].mean(axis=0),
            chin=at_chin,
            radii=last(Around(middle=middle).unrolled(inside.astype(np.uint8) * 255) >= 128),
            up=upright(view.camera.axes @ view.rotation[:, 1], view.camera.axes @ seen),
            px_per_mm=scale / float(depth[skull].mean()),
            root_px_per_mm=scale / float(depth[root].mean()),
        )


def _clear_eyes(aspect: Aspect) -> NDArray[np.uint8]:
    return without_catchlights(aspect.plate, aspect.eyes_at, aspect.px_per_mm)


def likeness_of(reading: Reading, head: Head) -> Likeness | None:
    """The likeness of a reading's sitter, whose level head is ``head``; None where there is none.

    ``why_none`` then says why.
    """
    if why_none(reading):
        return None
    vertices = head.vertices_mm.astype(np.float64)
    fine = refine(vertices, head.triangles, vertex_normals(vertices, head.triangles))
    body = body_of(head, fine)
    sculpture = Sculpture(head)
    try:
        aspects = aspects_of(_usable(reading), head, body, sculpture.openness)
    except PhotoError:
        return None
    return Likeness(head, sculpture, fine, body, aspects)


def why_none(reading: Reading) -> str:
    """One sentence on why these frames carry no likeness; empty where they should."""
    if reading.fit is None:
        return tr("There is no picture of the sitter, since no frame shows a face; give one.")
    if not _usable(reading):
        return tr(
            "There is no picture of the sitter, since the frames can't be opened again; read the "
            "photographs anew."
        )
    return ""


def _usable(reading: Reading) -> list[FrameReading]:
    """The frames that gave the head, and whose photographs are still there."""
    parts = reading.fit.frames if reading.fit is not None else ()
    return [
        frame
        for frame in reading.frames
        if any(frame.fitted is part for part in parts)
        and frame.path is not None
        and frame.path.exists()
    ]
