"""Which texels of a skin are known: what looks like skin, hangs together, and is no narrow gap."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from sitwell.head.regions import EAR, Region
from sitwell.head.surface import Head
from sitwell.scene.paint import Grid
from sitwell.scene.refine import refine, vertex_normals
from sitwell.scene.skin import EyeColours
from sitwell.scene.skin_eyes import WEIGHTS
from sitwell.scene.skin_frame import ramp

Floats = NDArray[np.float64]

# hair seldom falls here
SURE_SKIN = (Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT, Region.NOSE_RIDGE)
LIDS = frozenset(region for region in Region if region.name.startswith("LID"))
LIPS = frozenset({Region.LIP_UPPER, Region.LIP_LOWER})
DOUBTED = EAR | {Region.NECK, Region.UNDER_JAW}
SKIN_OFF, LEAST_TONE_SPREAD = 2.5, np.array([0.25, 0.05, 0.06])
LEAST_BARE = 0.5  # of what is seen of an ear or the neck
GAP_MM, INNER_GAP_MM, SURELY = 2.5, 8.0, 0.95
ISLAND_MM2 = 4000.0
# a lid this near the eyeball is its edge, and shows what lies beside it: iris, lashes' shine, white
LID_EDGE_MM, LID_NEAR_MM = 1.1, 1.6
WHITER = 0.7  # of its distance to skin: a colour that much nearer to the white is the white
DARKEST = 1e-3


def like_skin(
    head: Head,
    grid: Grid,
    region: NDArray[np.uint8],
    colour: Floats,
    known: Floats,
    eyes: Mapping[str, EyeColours],
) -> Floats:
    """1, or less where an ear, the neck or the under-jaw shows no skin, or a lid's edge the eye.

    Hair, cloth and background fall on ears and neck where the fit is off or they are covered.
    """
    plain = colour[np.isin(region, SURE_SKIN) & (known > 0.9)]
    if len(plain) == 0:
        return np.ones(len(region))
    tone = _tone(colour)
    middle = np.median(_tone(plain), axis=0)
    spread = 1.4826 * np.median(np.abs(_tone(plain) - middle), axis=0) + LEAST_TONE_SPREAD
    off = np.linalg.norm((tone - middle) / spread, axis=1)
    alike = 1.0 - ramp(SKIN_OFF, 1.4 * SKIN_OFF, off)
    share = np.ones(len(region))
    for part in DOUBTED:
        mine = region == part
        seen = float(known[mine].sum())
        # a part that is mostly covered shows its cover here and there in skin's colour too
        covered = seen > 0.0 and float((alike * known)[mine].sum()) < LEAST_BARE * seen
        share[mine] = 0.0 if covered else alike[mine]
    white = _tone(np.stack([eye.white for eye in eyes.values()]).mean(axis=0)[None])
    whiter = np.linalg.norm((tone - white) / spread, axis=1) < WHITER * off
    off_ball_mm = _off_eyeballs_mm(head, grid, region)
    share[(off_ball_mm < LID_EDGE_MM) | (whiter & (off_ball_mm < LID_NEAR_MM))] = 0.0
    return share


def _off_eyeballs_mm(head: Head, grid: Grid, region: NDArray[np.uint8]) -> Floats:
    """How far off the next eyeball each texel (N,) of the lids lies; infinite for all others."""
    off_mm = np.full(len(region), np.inf)
    lids = np.flatnonzero(np.isin(region, list(LIDS)))
    places = places_of(head, grid)[lids]
    for centre in head.eye_centre_mm.values():
        away = np.linalg.norm(places - centre, axis=1) - head.eye_radius_mm
        off_mm[lids] = np.minimum(off_mm[lids], away)
    return off_mm


def _tone(colour: Floats) -> Floats:
    """Logarithms (N, 3) of luminance, red over green and blue over green."""
    red, green, blue = np.maximum(colour, DARKEST).T
    light = np.maximum(colour @ WEIGHTS, DARKEST)
    return np.stack([np.log(light), np.log(red / green), np.log(blue / green)], axis=1)


def without_islands(head: Head, grid: Grid, known: Floats) -> Floats:
    """Known texels (N,) less small pieces that hang together with nothing else that is known."""
    seen = known_of_triangles(head, grid, known, bare=0.0) > 0.5
    chosen = head.triangles[seen]
    count = len(head.vertices_mm)
    links = chosen[:, [[0, 1], [1, 2]]].reshape(-1, 2)
    graph = coo_matrix((np.ones(len(links)), (links[:, 0], links[:, 1])), shape=(count, count))
    _, piece_of = connected_components(graph, directed=False)
    corners = head.vertices_mm[head.triangles].astype(np.float64)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * np.linalg.norm(across, axis=1) * seen
    piece = piece_of[head.triangles[:, 0]]
    large = np.isin(piece, np.flatnonzero(np.bincount(piece, weights=area) > ISLAND_MM2))
    in_large = np.zeros(count, dtype=bool)
    in_large[head.triangles[seen & large]] = True
    keeps = np.asarray(in_large[head.triangles].any(axis=1))
    return known * keeps[grid.triangle // 4]


def close_gaps(
    head: Head, grid: Grid, region: NDArray[np.uint8], colour: Floats, known: Floats
) -> tuple[Floats, Floats]:
    """Narrow gaps, as in a crease, take the colour of what is known right beside them.

    So do the lips' inner sides and the lids' edges, which no frame shows well.
    """
    gap = known < SURELY
    corners = head.triangles[grid.triangle // 4]
    at_gap = np.zeros(len(head.vertices_mm), dtype=bool)
    at_gap[corners[gap]] = True
    beside = ~gap & at_gap[corners].any(axis=1)
    near_sure = np.zeros(len(head.vertices_mm), dtype=bool)
    near_sure[corners[beside]] = True
    soft = np.isin(region, list(LIDS | LIPS))
    inner = np.flatnonzero(gap & (soft | near_sure[corners].any(axis=1)))
    if len(inner) == 0 or not beside.any():
        return colour, known
    places = places_of(head, grid)
    reach = np.where(soft[inner], INNER_GAP_MM, GAP_MM)
    off, which = cKDTree(places[beside]).query(places[inner], k=4, distance_upper_bound=reach.max())
    near = np.isfinite(off)
    pull = np.where(near, 1.0 / (off + 0.2), 0.0)
    pull /= np.maximum(pull.sum(axis=1, keepdims=True), 1e-9)
    filled = (pull[..., None] * colour[beside][np.where(near, which, 0)]).sum(axis=1)
    reached = 1.0 - np.clip((off[:, 0] / reach - 0.6) / 0.4, 0.0, 1.0)
    own = known[inner] / np.maximum(known[inner] + reached, 1e-9)
    colour, known = colour.copy(), known.copy()
    colour[inner] = own[:, None] * colour[inner] + (1.0 - own[:, None]) * filled
    known[inner] = np.maximum(known[inner], reached)
    return colour, known


def places_of(head: Head, grid: Grid) -> Floats:
    """Where the texels lie on the finer surface, (N, 3) in mm."""
    vertices = head.vertices_mm.astype(np.float64)
    fine = refine(vertices, head.triangles, vertex_normals(vertices, head.triangles))
    corners = fine.places(vertices, np.eye(3))[fine.triangles[grid.triangle]]
    return np.einsum("nc,ncd->nd", grid.weights, corners)


def known_of_triangles(head: Head, grid: Grid, known: Floats, bare: float = 1.0) -> Floats:
    """How much of each of the head's triangles (T,) is known; what is never painted gives bare."""
    count = len(head.triangles)
    parent = grid.triangle // 4
    times = np.bincount(parent, minlength=count)
    sums = np.bincount(parent, weights=known, minlength=count)
    return np.where(times > 0, sums / np.maximum(times, 1), bare)
