"""A calm line drawing of a head in a set-up, from the fitted head alone.

Lines are where the surface turns from the lens and where its patches meet, hidden parts left out;
a few washes show how the light falls. Hair is plain and nobody's; widths and tones are design
choices.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from sitwell.head.regions import EAR, EYE, Region
from sitwell.head.surface import SIDES, Head
from sitwell.likeness.eye_and_brow import brow_hairs, catchlight, disc, lid_fold, within
from sitwell.likeness.face_lines import LIDS, LIPS, NOSTRILS, SideLines, find_lines
from sitwell.likeness.figure import CLOTH, HAIR, Figure, Seen, Window
from sitwell.likeness.line_work import INK, PAPER, STEP_PX, LineWork
from sitwell.likeness.mesh_lines import turning_lines
from sitwell.likeness.pen import Pen, evened, smoothed
from sitwell.likeness.vector_drawing import Drawing, Shape, Tone
from sitwell.likeness.wash import COARSER, outlines, shade_stops
from sitwell.scene.lighting import key_place_mm
from sitwell.scene.preview import IRIS_RADIUS_MM, PUPIL_RADIUS_MM, Sculpture, picture_window
from sitwell.scene.setup import Setup
from sitwell.scene.view import View

Floats = NDArray[np.float64]

CONTOUR = Pen(1.0, least=7.0)
SHORT = 40  # points of a contour that is drawn only where it stands alone
LIGHT, HEAVY = 0.85, 0.45  # a contour's width, and what it gains where the form turns under
EAR_FOLD = Pen(0.5, ease=3.0, least=8.0, opacity=0.8)
EAR_FACING = 0.3  # cosine to the lens at which the folds of an ear are drawn
COLLAR = Pen(0.85)
JAW, JAW_LEFT_OUT = Pen(0.7, ease=12.0), 5  # one part in so many, at either end
WING = Pen(0.75)
NOSE_FOOT = Pen(0.55)
LASHES = Pen(1.3, ease=1.5)
LOWER_LID = Pen(0.45)
FOLD = Pen(0.5, ease=4.0)
MOUTH = Pen(0.9)
LIP = Pen(0.45, opacity=0.8)
STRAND = Pen(0.45, opacity=0.6)
BROW_HAIR = Pen(0.55, opacity=0.75)

SKIN_STOPS, SKIN_WASH = (-0.6, -1.0, -1.5, -2.1), 0.065  # one wash more below each, of the lit skin
DARK_STOPS, DARK_WASH = -1.2, 0.06  # of hair and cloth
HAIR_TONE, CLOTH_TONE, LIP_TONE, NOSTRIL_TONE, BROW_TONE = 0.17, 0.12, 0.10, 0.7, 0.15
IRIS_TONE, PUPIL_TONE = 0.5, 0.9
# The ground is drawn lighter than it will be, so that lines stand on it.
GROUND_TONE, TONE_PER_STOP, GROUND_STOPS = 240.0, 24.0, (-4.0, 0.3)


class LineDrawing:
    """A head prepared for drawings; they share its buffers, so one is made at a time."""

    def __init__(self, head: Head) -> None:
        self._plaster = Sculpture(head, plaster=True)
        self._anatomy = anatomy = self._plaster.anatomy
        self._figure = Figure(head, anatomy)
        self._lines = find_lines(anatomy.triangles, anatomy.region)
        inner = {Region.SOCKET, Region.SCALP, *EYE, *LIDS, *LIPS}
        self._turning = self._figure.triangles[self._figure.triangles_but(inner)]
        self._ears = self._figure.triangles[self._figure.triangles_of(EAR)]

    def draw(self, setup: Setup, width_px: int, height_px: int) -> Drawing:
        """The head in a set-up, framed and cropped as ``Sculpture.render`` does."""
        view = self._plaster.view(setup)
        return self.draw_in(view, picture_window(view, width_px, height_px), width_px, height_px)

    def view(self, setup: Setup) -> View:
        """The head posed before the set-up's camera; valid until the next look."""
        return self._plaster.view(setup)

    def draw_in(self, view: View, window: Window, width_px: int, height_px: int) -> Drawing:
        """What the last view of this head shows in a window: left, top, pixels for a tangent."""
        seen = self._figure.seen(view, window, (width_px, height_px))
        left, top, scale = window
        small = (left, top, scale / COARSER), width_px // COARSER, height_px // COARSER
        work = LineWork(seen)
        shapes = (
            *self._tones(work, self._plaster.render_in(view, *small)),
            *self._contours(work),
            *self._features(work),
        )
        ground = ground_tone(view.setup)
        return Drawing(width=width_px, height=height_px, ground=ground, shapes=shapes)

    def _tones(self, work: LineWork, light: NDArray[np.uint8]) -> Iterator[Shape]:
        """The figure as paper, its darker parts, and the shade on it."""
        seen = work.seen
        figure, cloth, hair = seen.patch >= 0, seen.on(CLOTH), seen.on(HAIR, Region.SCALP)
        skin = figure & ~cloth & ~hair
        stops = shade_stops(light, skin, figure)
        yield from work.fill(figure, 1.0, ease=3.0, tone=PAPER)
        for level in SKIN_STOPS:
            yield from work.fill(skin & (stops < level), SKIN_WASH, ease=5.0, least=60)
        for dark, tone, ease in ((cloth, CLOTH_TONE, 3.0), (hair, HAIR_TONE, 12.0)):
            yield from work.fill(dark, tone, ease=ease)
            yield from work.fill(dark & (stops < DARK_STOPS), DARK_WASH, ease=8.0, least=60)
        yield from work.fill(seen.on(*LIPS), LIP_TONE, ease=2.0)
        yield from work.fill(seen.on(*NOSTRILS), NOSTRIL_TONE, ease=1.5, least=6)

    def _contours(self, work: LineWork) -> Iterator[Shape]:
        """Where the form turns from the lens, heavier where it turns under."""
        seen = work.seen
        values, facing = np.concatenate([seen.places_mm, seen.normals], axis=1), seen.facing()
        for line, _ in turning_lines(values, self._turning, facing):
            under = np.clip(-(line[:, 3:] @ seen.view.camera.axes[1]), 0.0, 1.0)
            weight = LIGHT + HEAVY * gaussian_filter1d(under, 3.0)
            alone = len(line) < SHORT
            yield from work.stroke(line[:, :3], CONTOUR, weight=weight, alone=alone)
        for line, _ in turning_lines(seen.places_mm, self._ears, facing - EAR_FACING):
            yield from work.stroke(line, EAR_FOLD, alone=True)

    def _features(self, work: LineWork) -> Iterator[Shape]:
        """The lines that lie on the skin, and hair."""
        places, lines = work.seen.places_mm, self._lines
        out = len(lines.jaw) // JAW_LEFT_OUT
        for line, pen in (
            (self._figure.collar, COLLAR),
            (lines.jaw[out:-out], JAW),
            (lines.lip_top, LIP),
            (lines.lip_foot, LIP),
            (lines.nose_foot, NOSE_FOOT),
            *((side.wing, WING) for side in lines.sides),
        ):
            yield from work.stroke(places[line], pen, alone=True)
        yield from work.stroke(places[lines.mouth[1:-1]], MOUTH, slack=4.0)
        yield from work.stroke(places[lines.mouth_foot[1:-1]], MOUTH, alone=True, slack=4.0)
        for side, name in zip(lines.sides, SIDES, strict=True):
            yield from self._brow(work, side)
            yield from self._eye(work, side, name)
        yield from work.hairs(work.seen.strands_mm, STRAND)

    def _brow(self, work: LineWork, side: SideLines) -> Iterator[Shape]:
        seen = work.seen
        ring = seen.places_mm[side.brow[:-1]]
        outward = np.abs(seen.view.off_middle_plane_mm(ring))
        hairs = tuple(work.hairs(brow_hairs(ring, outward), BROW_HAIR, slack=3.0))
        if hairs:
            spots, _ = seen.spots(seen.places_mm[side.brow])
            even = evened(spots, STEP_PX)[:-1]
            yield Shape((smoothed(even, 3.0, closed=True),), INK, BROW_TONE)
        yield from hairs

    def _eye(self, work: LineWork, side: SideLines, name: str) -> Iterator[Shape]:
        seen, places = work.seen, work.seen.places_mm
        opening = max(outlines(seen.on(*side.eyeball), seen.finer, 1.5, 8), key=len, default=None)
        if opening is not None:
            yield Shape((opening,), PAPER)
            yield from self._iris(seen, opening, name)
        yield from work.stroke(places[side.upper_lid], LASHES, slack=2.0)
        yield from work.stroke(places[side.lower_lid], LOWER_LID, slack=2.0)
        fold = lid_fold(places[side.upper_lid], places[side.fold])
        yield from work.stroke(fold, FOLD, slack=3.0)
        if opening is not None:  # over the lashes' shade, as it is over them in a photograph
            yield from self._catchlight(seen, opening, name)

    def _iris(self, seen: Seen, opening: Floats, name: str) -> Iterator[Shape]:
        middle, iris = self._eyeball(seen.view, name)
        ball_mm = float(np.linalg.norm(iris - middle))
        gaze = (iris - middle) / ball_mm
        for radius_mm, opacity in ((IRIS_RADIUS_MM, IRIS_TONE), (PUPIL_RADIUS_MM, PUPIL_TONE)):
            if rings := within(seen, disc(middle, gaze, ball_mm, radius_mm), opening):
                yield Shape(rings, INK, opacity)

    def _catchlight(self, seen: Seen, opening: Floats, name: str) -> Iterator[Shape]:
        view = seen.view
        light = catchlight(
            *self._eyeball(view, name), key_place_mm(view.setup), view.camera.lens_mm
        )
        if rings := within(seen, light, opening):
            yield Shape(rings, PAPER)

    def _eyeball(self, view: View, name: str) -> tuple[Floats, Floats]:
        """An eyeball's middle and that of its iris, (3,), in the studio."""
        middle = self._anatomy.eyes[SIDES.index(name)].centre_mm
        return view.studio_from_head(middle), view.point_mm(f"iris_{name}")


def ground_tone(setup: Setup) -> Tone:
    """The planned background's tone, as light as lines need it."""
    tone = round(
        GROUND_TONE + TONE_PER_STOP * float(np.clip(setup.background_stops, *GROUND_STOPS))
    )
    return tone - 2, tone, tone + 2
