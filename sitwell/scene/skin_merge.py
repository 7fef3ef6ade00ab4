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
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.regions import EAR, EYE, FACE, Region
from sitwell.head.surface import Head
from sitwell.scene.anatomy import study
from sitwell.scene.paint import Grid, Paint, lay_out
from sitwell.scene.refine import refine, to_vertices, vertex_normals
from sitwell.scene.shadow import fill_openness
from sitwell.scene.skin import EyeColours, Skin
from sitwell.scene.skin_eyes import PUPIL_USUAL_MM, WEIGHTS, eye_colours
from sitwell.scene.skin_frame import Sight, hold, ramp, see
from sitwell.scene.skin_known import (
    close_gaps,
    known_of_triangles,
    like_skin,
    without_islands,
)
from sitwell.scene.skin_light import evened

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

FACE_TEXEL_MM, FINE_TEXEL_MM, REST_TEXEL_MM = 0.55, 0.42, 1.1
FINE = frozenset(
    region for region in Region if region.name.startswith(("LID", "BROW", "LIP", "NOS"))
)
BARE = EYE | {Region.SOCKET}
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
BRIGHTEST_SKIN = 0.5  # a brighter frame is taken down, as an exposure would; none is lifted
PAPER = np.array([1.06, 1.0, 0.93])  # the paper of what is unknown, times the skin's luminance
SPUR = (0.35, 0.6)  # a narrow tongue of known skin is mostly surrounded by unknown
SAMPLE = 5  # every so many texels tell enough of skin's usual colour
USUAL_EYE = EyeColours(
    white=np.array([0.62, 0.60, 0.57]), iris=np.array([0.15, 0.135, 0.115]), pupil_mm=PUPIL_USUAL_MM
)


def skin_from_frames(reading: Reading) -> Skin:
    """The sitter's skin from the frames that gave the head (about a second a frame).

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
            "No frame that gave the head can be read again for its skin; "
            "read the photographs anew, or plan with a plain head."
        )
    grid = grid_of(head)
    sights = [see(part, grid) for part in held]
    region = np.repeat(head.region_of_triangle, 4)[grid.triangle]
    colour, known = _blend(head, grid, region, sights)
    eyes = eye_colours(held, USUAL_EYE)
    known = known * like_skin(head, grid, region, colour, known, eyes)
    smooth = _Smoother(head, grid)
    known *= ramp(*SPUR, smooth.over(known[:, None], np.ones(len(known)))[:, 0])
    known = without_islands(head, grid, known)
    colour, known = close_gaps(head, grid, region, colour, known)
    luminance = _luminance(region, colour, known)
    exposure = min(1.0, BRIGHTEST_SKIN / luminance)
    paper = PAPER * luminance
    mixed = exposure * (colour * known[:, None] + paper * (1.0 - known[:, None]))
    texels = np.column_stack([mixed, known]).astype(np.float32)
    return Skin(
        paint=Paint(first=grid.first, steps=grid.steps, texels=texels),
        known=known_of_triangles(head, grid, known),
        eyes={side: eye.exposed(exposure) for side, eye in eyes.items()},
        luminance=luminance * exposure,
        files=tuple(part.frame.file for part in held),
    )


def _gave(frame: FrameReading, reading: Reading) -> bool:
    """Whether the frame was fitted together with the head, not alone or for someone else.

    Shapes can't tell: the head is given the sitter's usual lids after the fit.
    """
    return reading.fit is not None and any(frame.fitted is part for part in reading.fit.frames)


def grid_of(head: Head) -> Grid:
    """Where a head carries texels: fine on lids, brows, lips and nose, coarse on the scalp."""
    vertices = head.vertices_mm.astype(np.float64)
    fine = refine(vertices, head.triangles, vertex_normals(vertices, head.triangles))
    texel_mm = np.full(len(Region), REST_TEXEL_MM)
    for region in Region:
        if region in BARE:
            texel_mm[region] = np.nan
        elif region in FINE:
            texel_mm[region] = FINE_TEXEL_MM
        elif region in FACE or region in EAR:
            texel_mm[region] = FACE_TEXEL_MM
    corners = fine.places(vertices, np.eye(3))[fine.triangles]
    return lay_out(corners, np.repeat(texel_mm[head.region_of_triangle], 4))


def _blend(
    head: Head, grid: Grid, region: NDArray[np.uint8], sights: Sequence[Sight]
) -> tuple[Floats, Floats]:
    """Colour (N, 3) of each texel and how well it is known (N,)."""
    weights = np.stack([sight.weight for sight in sights])
    colours = np.stack([_without_slope(sight, region) for sight in sights])
    preferred = weights * (0.2 + 0.8 * np.stack([sight.lit for sight in sights]))
    best = int(np.argmax(weights[:, np.isin(region, list(MIDDLE))].sum(axis=1)))
    preferred[best] *= PREFERRED
    if len(sights) > 1:
        colours *= _tones(head, grid, colours, preferred)
    shares = preferred**SHARPNESS
    shares /= np.maximum(shares.sum(axis=0), NEXT_TO_NOTHING)
    colour = (shares[..., None] * colours).sum(axis=0)
    return colour, ramp(KNOWN_NONE, KNOWN_FULL, weights.max(axis=0))


def _without_slope(sight: Sight, region: NDArray[np.uint8]) -> Floats:
    usable = np.isin(region, PLAIN_SKIN) & (sight.weight > 0.3) & (sight.lit > 0.9)
    plain = np.flatnonzero(usable)[::SAMPLE]
    factor = evened(
        sight.colour[plain] @ WEIGHTS, sight.normals[plain], sight.weight[plain], sight.normals
    )
    return sight.colour * factor[:, None]


def _tones(head: Head, grid: Grid, colours: Floats, weights: Floats) -> Floats:
    """Factors (F, N, 3) that bring frames to one tone, smooth over the head."""
    logs = np.log(np.maximum(colours, DARKEST))
    shares = weights**2 / np.maximum((weights**2).sum(axis=0), 1e-12)
    common = (shares[..., None] * logs).sum(axis=0)
    smooth = _Smoother(head, grid)
    # where one frame stands alone it tells nothing of how it differs from the others
    together = weights.sum(axis=0) - weights.max(axis=0)
    factors = [
        np.exp(smooth.over((common - own), weight * together))
        for own, weight in zip(logs, weights, strict=True)
    ]
    return np.stack(factors)


class _Smoother:
    """Spreads values at texels smoothly over the head's mesh."""

    def __init__(self, head: Head, grid: Grid) -> None:
        count = len(head.vertices_mm)
        self.count = count
        self.corners = head.triangles[grid.triangle // 4]
        vertices = head.vertices_mm.astype(np.float64)
        self.fine = refine(vertices, head.triangles, vertex_normals(vertices, head.triangles))
        self.grid = grid
        edges = self.fine.ends
        both = np.concatenate([edges, edges[:, ::-1]])
        links = coo_matrix((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(count, count))
        self.laplacian = diags(np.asarray(links.sum(axis=1)).ravel()) - links

    def over(self, values: Floats, weight: Floats) -> Floats:
        """Smoothed values (N, C) at the texels, of values (N, C) that count by ``weight`` (N,)."""
        corners = self.corners.ravel()
        each = np.repeat(weight, 3)
        total = np.bincount(corners, weights=each, minlength=self.count)
        scale = max(float(np.median(total[total > 0])) if (total > 0).any() else 1.0, 1e-9)
        solver = splu((diags(total / scale + 1e-6) + TONE_REACH * self.laplacian).tocsc())
        sums = np.stack(
            [
                np.bincount(corners, weights=each * np.repeat(column, 3), minlength=self.count)
                for column in values.T
            ],
            axis=1,
        )
        at_fine = self.fine.spread(solver.solve(sums / scale))
        three = at_fine[self.fine.triangles[self.grid.triangle]]
        return np.einsum("nc,ncd->nd", self.grid.weights, three)


def _luminance(region: NDArray[np.uint8], colour: Floats, known: Floats) -> float:
    plain = np.isin(region, PLAIN_SKIN) & (known > 0.9)
    chosen = plain if plain.any() else known > 0.0
    return float(np.median(colour[chosen] @ WEIGHTS)) if chosen.any() else 0.5
