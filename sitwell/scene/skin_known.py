"""Which texels of a skin are known: what looks like skin, hangs together, and is no narrow gap."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from sitwell.head.regions import EAR, Region
from sitwell.scene.skin import TONE_REGIONS, EyeColours
from sitwell.scene.skin_cover import Cover, Singles
from sitwell.scene.skin_eyes import WEIGHTS
from sitwell.scene.skin_frame import ramp

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

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
    cover: Cover, colour: Singles, known: Singles, eyes: Mapping[str, EyeColours]
) -> Singles:
    """1, or less where an ear, the neck or the under-jaw shows no skin, or a lid's edge the eye.

    Hair, cloth and background fall on ears and neck where the fit is off or they are covered.
    """
    share = np.ones(len(cover.region), dtype=np.float32)
    plain = colour[np.isin(cover.region, TONE_REGIONS) & (known > 0.9)]
    if len(plain) == 0:
        return share
    middle = np.median(_tone(plain), axis=0)
    spread = 1.4826 * np.median(np.abs(_tone(plain) - middle), axis=0) + LEAST_TONE_SPREAD
    for part in DOUBTED:
        mine = np.flatnonzero(cover.region == part)
        off = np.linalg.norm((_tone(colour[mine]) - middle) / spread, axis=1)
        alike = 1.0 - ramp(SKIN_OFF, 1.4 * SKIN_OFF, off)
        seen = float(known[mine].sum())
        # a part that is mostly covered shows its cover here and there in skin's colour too
        covered = seen > 0.0 and float((alike * known[mine]).sum()) < LEAST_BARE * seen
        share[mine] = 0.0 if covered else alike
    white = _tone(np.stack([eye.white for eye in eyes.values()]).mean(axis=0)[None])
    lids = np.flatnonzero(np.isin(cover.region, list(LIDS)))
    tone = _tone(colour[lids])
    off = np.linalg.norm((tone - middle) / spread, axis=1)
    whiter = np.linalg.norm((tone - white) / spread, axis=1) < WHITER * off
    off_ball_mm = _off_eyeballs_mm(cover, lids)
    share[lids[(off_ball_mm < LID_EDGE_MM) | (whiter & (off_ball_mm < LID_NEAR_MM))]] = 0.0
    return share


def _off_eyeballs_mm(cover: Cover, chosen: NDArray[np.int64]) -> Floats:
    """How far off the next eyeball each chosen texel (n,) lies."""
    head, places = cover.head, cover.places(chosen)
    away = [np.linalg.norm(places - centre, axis=1) for centre in head.eye_centre_mm.values()]
    return np.min(away, axis=0) - head.eye_radius_mm


def _tone(colour: Singles | Floats) -> Floats:
    """Logarithms (N, 3) of luminance, red over green and blue over green."""
    red, green, blue = np.maximum(colour, DARKEST, dtype=np.float64).T
    light = np.maximum(colour @ WEIGHTS, DARKEST)
    return np.stack([np.log(light), np.log(red / green), np.log(blue / green)], axis=1)


def without_islands(cover: Cover, known: Singles) -> Singles:
    """Known texels (N,) less small pieces that hang together with nothing else that is known."""
    head = cover.head
    seen = known_of_triangles(cover, known, bare=0.0) > 0.5
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
    return known * keeps[cover.grid.triangle // 4]


def close_gaps(cover: Cover, colour: Singles, known: Singles) -> None:
    """Narrow gaps, as in a crease, take the colour of what is known right beside them, in place.

    So do the lips' inner sides and the lids' edges, which no frame shows well.
    """
    inner, beside = _gaps(cover, known)
    if len(inner) == 0 or len(beside) == 0:
        return
    reach = np.where(np.isin(cover.region[inner], list(LIDS | LIPS)), INNER_GAP_MM, GAP_MM)
    tree, most = cKDTree(cover.places(beside)), float(reach.max())
    off, which = tree.query(cover.places(inner), k=4, distance_upper_bound=most)
    near = np.isfinite(off)
    pull = np.where(near, 1.0 / (off + 0.2), 0.0)
    pull /= np.maximum(pull.sum(axis=1, keepdims=True), 1e-9)
    filled = (pull[..., None] * colour[beside[np.where(near, which, 0)]]).sum(axis=1)
    reached = 1.0 - np.clip((off[:, 0] / reach - 0.6) / 0.4, 0.0, 1.0)
    own = known[inner] / np.maximum(known[inner] + reached, 1e-9)
    colour[inner] = own[:, None] * colour[inner] + (1.0 - own[:, None]) * filled
    known[inner] = np.maximum(known[inner], reached)


def _gaps(cover: Cover, known: Singles) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Texels that may be closed, and the known ones on triangles that touch a gap's."""
    gap, parent = known < SURELY, cover.grid.triangle // 4
    soft = np.isin(cover.region, list(LIDS | LIPS))
    beside = ~gap & _touching(cover, parent[gap])[parent]
    inner = gap & (soft | _touching(cover, parent[beside])[parent])
    return np.flatnonzero(inner), np.flatnonzero(beside)


def _touching(cover: Cover, chosen: Ints) -> NDArray[np.bool_]:
    """Whether each of the head's triangles (T,) shares a corner with any of the chosen ones."""
    at_corner = np.zeros(len(cover.head.vertices_mm), dtype=bool)
    at_corner[cover.head.triangles[chosen]] = True
    return np.asarray(at_corner[cover.head.triangles].any(axis=1))


def known_of_triangles(cover: Cover, known: Singles, bare: float = 1.0) -> Floats:
    """How much of each of the head's triangles (T,) is known; what is never painted gives bare."""
    times = cover.sums(np.ones(len(known), dtype=np.float32))
    return np.where(times > 0, cover.sums(known) / np.maximum(times, 1), bare)
