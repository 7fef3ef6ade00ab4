"""From a reading's frames to the sitter's skin: what each frame saw, blended into one paint.

Each texel takes its detail nearly all from the frame that saw it best, so nothing shows double;
where two frames differ in tone, the difference is spread softly over the skin between them.
Nothing is made up: what no frame saw stays unknown, and no side is filled in from the other.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import splu

from sitwell.base.errors import HeadError
from sitwell.base.memory import give_back
from sitwell.base.words import tr
from sitwell.head.facing import to_vertices
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.regions import FACE, Region
from sitwell.scene.anatomy import study
from sitwell.scene.paint import Paint
from sitwell.scene.shadow import fill_openness
from sitwell.scene.skin import EyeColours, Skin, lightness_mean
from sitwell.scene.skin_cover import Cover, Singles, cover, pieces
from sitwell.scene.skin_eyes import PUPIL_USUAL_MM, WEIGHTS, eye_colours
from sitwell.scene.skin_frame import Sight, as_photographed, hold, middle_seen, ramp, see
from sitwell.scene.skin_known import (
    close_gaps,
    known_of_triangles,
    like_skin,
    without_islands,
)
from sitwell.scene.skin_light import evened

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

PLAIN_SKIN = (
    Region.FOREHEAD,
    Region.CHEEK_OWN_LEFT,
    Region.CHEEK_OWN_RIGHT,
    Region.NOSE_RIDGE,
    Region.CHIN,
)
MIDDLE = frozenset(FACE - {Region.TEMPLE_OWN_LEFT, Region.TEMPLE_OWN_RIGHT})
KNOWN_NONE, KNOWN_FULL = 0.01, 0.14  # weights between which a texel passes to known
PREFERRED = 2.5  # the frame that shows the middle of the face best counts this much more
SHARPNESS = 4.0  # how sharply the blend prefers the better frame
TONE_REACH = 1.0  # how far a tone's difference is spread, in squared steps of the mesh
DARKEST, NEXT_TO_NOTHING = 1e-3, 1e-60
TELLS_TONE = 0.5  # of what the best frame sees of the middle of the face, to tell the tone too
EYES_OVER_SKIN = 4.0  # the white of an eye that no frame showed is no brighter than this
SPUR = (0.35, 0.6)  # a narrow tongue of known skin is mostly surrounded by unknown
SAMPLE = 5  # every so many texels tell enough of skin's usual colour
USUAL_EYE = EyeColours(
    white=np.array([0.62, 0.60, 0.57]), iris=np.array([0.15, 0.135, 0.115]), pupil_mm=PUPIL_USUAL_MM
)


def skin_from_frames(reading: Reading) -> Skin:
    """The sitter's skin from the frames that gave the head (about half a second a frame).

    FaceError where no face was read, HeadError where no frame can be read again, PhotoError where
    a photograph has changed or gone since.
    """
    head = reading.require_head()
    anatomy = study(head)
    count = len(anatomy.vertices_mm)
    openness = to_vertices(anatomy.triangles, fill_openness(anatomy)[:, None], count)[:, 0]
    held = [
        part
        for frame in reading.frames
        if frame.fitted is not None and _gave(frame, reading)
        for part in [hold(frame, frame.fitted, openness)]
        if part is not None
    ]
    if not held:
        raise HeadError(
            tr(
                "No frame that gave the head can be read again for its skin; read the "
                "photographs anew, or plan with a plain head.",
            )
        )
    ground = cover(head)
    sights = [see(part, ground) for part in held]
    colour, known, tone = _blend(ground, sights)
    luminance = float(tone @ WEIGHTS)
    eyes = eye_colours(held, _usual_eye(luminance))
    files = tuple(part.frame.file for part in held)
    del sights, held  # the photographs are the largest part by far
    known *= like_skin(ground, colour, known, eyes)
    known *= _Smoother(ground).without_spurs(known)
    known = without_islands(ground, known)
    close_gaps(ground, colour, known)
    skin = Skin(
        paint=Paint(
            first=ground.grid.first,
            steps=ground.grid.steps,
            texels=_texels(colour, known, tone),
        ),
        known=known_of_triangles(ground, known),
        eyes=eyes,
        luminance=luminance,
        files=files,
    )
    del ground, colour, known
    give_back()
    return skin


def _texels(colour: Singles, known: Singles, tone: Floats) -> Singles:
    """Texels (N, 4) of a paint: the colour as far as it is known, else the sitter's tone."""
    texels = np.empty((len(known), 4), dtype=np.float32)
    paper = tone.astype(np.float32)
    for piece in pieces(len(known)):
        share = known[piece, None]
        texels[piece, :3] = paper + share * (colour[piece] - paper)
    texels[:, 3] = known
    return texels


def _gave(frame: FrameReading, reading: Reading) -> bool:
    """Whether the frame was fitted together with the head, not alone or for someone else.

    Shapes can't tell: the head is given the sitter's usual lids after the fit.
    """
    return reading.fit is not None and any(frame.fitted is part for part in reading.fit.frames)


def _usual_eye(luminance: float) -> EyeColours:
    """An eye that no frame showed, no brighter than skin of this luminance lets it be."""
    return USUAL_EYE.exposed(
        min(1.0, EYES_OVER_SKIN * luminance / float(USUAL_EYE.white @ WEIGHTS))
    )


def _blend(ground: Cover, sights: Sequence[Sight]) -> tuple[Singles, Singles, Floats]:
    """Colour (N, 3) of each texel, how well it is known (N,), and the sitter's tone (3,)."""
    weights = np.stack([sight.weight for sight in sights])
    preferred = weights * np.stack([0.2 + 0.8 * sight.lit for sight in sights])
    best = int(np.argmax(weights[:, np.isin(ground.region, list(MIDDLE))].sum(axis=1)))
    preferred[best] *= PREFERRED
    tone = _tone(ground, sights)
    for sight in sights:
        _take_slope_off(sight, ground)
    if len(sights) > 1:
        _bring_to_one_tone(ground, sights, preferred)
    colour = _mixed(sights, preferred)
    mine = middle_seen(ground, weights[best])
    painted = lightness_mean(colour[mine], weights[best][mine])
    colour *= (tone / np.maximum(painted, DARKEST)).astype(np.float32)
    return colour, ramp(KNOWN_NONE, KNOWN_FULL, weights.max(axis=0)), tone


def _tone(ground: Cover, sights: Sequence[Sight]) -> Floats:
    """The middle of the face (3,) as it was photographed: the median of the frames that show it.

    A photograph doesn't tell its exposure, so this is all that is known of how bright the skin is.
    """
    seen = [float(sight.weight[ground.middle].sum()) for sight in sights]
    tones = [
        as_photographed(sight, ground)
        for sight, much in zip(sights, seen, strict=True)
        if much >= TELLS_TONE * max(seen)
    ]
    return np.asarray(np.exp(np.median(np.log(np.maximum(tones, DARKEST)), axis=0)))


def _mixed(sights: Sequence[Sight], preferred: Singles) -> Singles:
    colour = np.zeros_like(sights[0].colour)
    for piece in pieces(len(colour)):
        # single precision can't hold the fourth power of a small weight
        shares = preferred[:, piece].astype(np.float64) ** SHARPNESS
        shares /= np.maximum(shares.sum(axis=0), NEXT_TO_NOTHING)
        for sight, share in zip(sights, shares, strict=True):
            colour[piece] += share[:, None] * sight.colour[piece]
    return colour


def _take_slope_off(sight: Sight, ground: Cover) -> None:
    """Take what is left of a slope of light over plain skin off the frame's colours."""
    usable = np.isin(ground.region, PLAIN_SKIN) & (sight.weight > 0.3) & (sight.lit > 0.9)
    plain = np.flatnonzero(usable)[::SAMPLE]
    factor = evened(
        sight.colour[plain] @ WEIGHTS,
        ground.spread(sight.held.normals, plain),
        sight.weight[plain].astype(np.float64),
        sight.held.normals,
    )
    logs = np.log(factor)[:, None]  # the logarithm is linear in the normal, and so between corners
    for piece in ground.pieces():
        sight.colour[piece] *= np.exp(ground.spread(logs, piece))


def _bring_to_one_tone(ground: Cover, sights: Sequence[Sight], weights: Singles) -> None:
    """Bring the frames' colours to one tone, smoothly over the head."""
    shares = weights**2 / np.maximum((weights**2).sum(axis=0), 1e-12)
    common = np.zeros_like(sights[0].colour)
    for sight, share in zip(sights, shares, strict=True):
        common += share[:, None] * np.log(np.maximum(sight.colour, DARKEST))
    smooth = _Smoother(ground)
    # where one frame stands alone it tells nothing of how it differs from the others
    together = weights.sum(axis=0) - weights.max(axis=0)
    for sight, weight in zip(sights, weights, strict=True):
        off = common - np.log(np.maximum(sight.colour, DARKEST))
        logs = smooth.over(off, weight * together)
        for piece in ground.pieces():
            sight.colour[piece] *= np.exp(ground.spread(logs, piece))


class _Smoother:
    """Spreads values at texels smoothly over the head's mesh."""

    def __init__(self, ground: Cover) -> None:
        count = len(ground.head.vertices_mm)
        self.ground, self.count = ground, count
        edges = ground.fine.ends
        both = np.concatenate([edges, edges[:, ::-1]])
        links = coo_matrix((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(count, count))
        self.laplacian = diags(np.asarray(links.sum(axis=1)).ravel()) - links

    def over(self, values: Singles, weight: Singles) -> Floats:
        """Smoothed values (V, C) at the finer corners, of values (N, C) that count by weight."""
        total = self._at_vertices(weight)
        scale = max(float(np.median(total[total > 0])) if (total > 0).any() else 1.0, 1e-9)
        solver = splu((diags(total / scale + 1e-6) + TONE_REACH * self.laplacian).tocsc())
        sums = np.stack([self._at_vertices(weight * column) for column in values.T], axis=1)
        return self.ground.fine.spread(solver.solve(sums / scale))

    def without_spurs(self, known: Singles) -> Singles:
        """1 for each texel (N,), less where it lies in a narrow tongue of known skin."""
        smooth = self.over(known[:, None], np.ones(len(known), dtype=np.float32))
        return ramp(*SPUR, self.ground.spread_all(smooth)[:, 0])

    def _at_vertices(self, values: Singles) -> Floats:
        """Values (N,) of the texels on the triangles around each vertex, summed."""
        of_triangle = np.repeat(self.ground.sums(values), 3)
        corners = self.ground.head.triangles.ravel()
        sums = np.bincount(corners, weights=of_triangle, minlength=self.count)
        return np.asarray(sums, dtype=np.float64)
