"""Paints the named regions on the own-left half of the mesh, and mirrors them.

Each region is drawn as a line over a few source vertices; between them it follows mesh edges by
the shortest way. A line is closed, or begins and ends on the midline. What lies between it and
the midline is filled from a vertex inside. The numbers were chosen by eye on numbered pictures of
the mesh (front, three-quarter, side, from below). Later entries paint over earlier ones.
"""

import numpy as np
from numpy.typing import NDArray

from builders.head.brush import Brush
from builders.head.mesh import Crop
from builders.head.source import Floats, Ints, Source
from sitwell.head.regions import Region

Labels = NDArray[np.uint8]

JAW_EDGE = (747, 7449, 7593, 10365, 7594, 7462, 7461, 7693, 7480, 7481)
CHIN_EDGE = (7164, 7133, 7451, 7599, 11775, 11827, 11784, 11834, 11900, 7619)
CHEEK_FLOOR = (7164, 7122, 7140, 7447, 11770, 11818, 11837, 11904, 7455, 7456, 11851, 7574, 7571)
NOSE_EDGE = (
    169, 6944, 6902, 6893, 6881, 6883, 6921, 11855, 11912, 11715, 11701, 7609, 11861, 11860, 11703,
    11708, 7052, 7051, 7101, 11672, 11673, 7099, 7057,
)  # fmt: skip
LIP_FOLD = (7119, 11751, 7132, 7136, 7137, 7138, 10406, 7162, 7164)
UNDER_NOSE = (7057, 7119, 7121, 7120, 7077, 7103, 7104, 343)
RIDGE_EDGE = (135, 6913, 6907, 6903, 11680, 6975, 7058)
NECK_TOP = (787, 7502, 7626, 7504, 10361, 7726, 7482)

# region, line of source vertices (own left or midline), a source vertex well inside
PATCHES: tuple[tuple[Region, tuple[int, ...], int], ...] = (
    (
        Region.TEMPLE_OWN_LEFT,
        (
            7024, 7031, 10411, 7439, 7013, 7019, 7669, 12150, 7705, 7568, 7661, 7700, 11977, 7570,
            12364, 12338, 12333, 12010, 11845, 11933, 7026, 7024,
        ),
        7041,
    ),
    (
        Region.NECK,
        (*NECK_TOP, 7481, 7465, 7467, 7686, 7586, 7588, 5266),
        809,
    ),
    (Region.UNDER_JAW, (*JAW_EDGE, *NECK_TOP[::-1]), 7500),
    (
        Region.JAW_OWN_LEFT,
        (*CHEEK_FLOOR, 12005, 7586, 7686, 7467, 7465, *JAW_EDGE[:1:-1], *CHIN_EDGE[::-1]),
        7460,
    ),
    (
        Region.CHIN,
        (492, 7241, 7235, 7166, *CHIN_EDGE, 7624, 7449, 747),
        5162,
    ),
    (
        Region.CHEEK_OWN_LEFT,
        (
            *CHEEK_FLOOR, 12005, 12328, 12349, 12347, 12332, 12333, 12010, 11845, 11933, 7026,
            6961, 6804, 6812, 6815, 6915, 6861, 6862, 6863, *NOSE_EDGE[6:], *LIP_FOLD,
        ),
        11788,
    ),
    (
        Region.UPPER_LIP_SKIN,
        (*UNDER_NOSE[::-1], *LIP_FOLD, 7184, 7168, 7170, 7169, 7210, 455),
        11947,
    ),
    (
        Region.LID_UPPER_OWN_LEFT,
        (
            6853, 6882, 6881, 6893, 6892, 6957, 6956, 6953, 6952, 6954, 6982, 7024, 7026, 6961,
            6804, 6808, 6799, 6784, 6785, 6844, 6853,
        ),
        6948,
    ),
    (
        Region.LID_LOWER_OWN_LEFT,
        (
            6853, 6834, 6828, 6820, 6808, 6804, 6812, 6815, 6915, 6861, 6862, 6863, 6921, 6883,
            6882, 6853,
        ),
        6826,
    ),
    (
        Region.BROW_OWN_LEFT,
        (
            6984, 6957, 6956, 6953, 6952, 6954, 6981, 6982, 6987, 7024, 6999, 6998, 6996, 6997,
            7006, 6983, 6984,
        ),
        6980,
    ),
    (Region.NOSE_SIDE_OWN_LEFT, (*NOSE_EDGE, *UNDER_NOSE), 6974),
    (Region.NOSE_ROOT, (169, 6944, 6902, 6894, 6896, 6907, 6913, 135), 6905),
    (Region.NOSE_RIDGE, (*RIDGE_EDGE, 291), 6941),
    (
        Region.NOSE_WING_OWN_LEFT,
        (
            7047, 7049, 11708, 7052, 7051, 7101, 11672, 11673, 7099, *UNDER_NOSE, 307, 7070, 7044,
            11668, 7047,
        ),
        7097,
    ),
    (Region.NOSE_TIP, (291, 7058, 7048, 7047, 11668, 7044, 7070, 307), 7061),
    (Region.NOSE_BASE, (307, 7070, 7065, 7069, 7092, 7076, 7077, 7104, 343), 7078),
    (
        Region.NOSTRIL_OWN_LEFT,
        (7093, 7094, 7096, 7082, 7087, 7086, 7083, 7125, 7089, 7090, 7091, 7092, 7093),
        7157,
    ),
)  # fmt: skip

EAR_FRONT = (12347, 12349)  # cheek that the source's ear mask takes in
SEAM = (523, 7265, 7263, 7181, 7176, 7193, 10400, 7185)  # where the lips meet
LID_RINGS = np.arange(13352, 13380)  # the lids' wet edge
POCKET = np.arange(7742, 7798)  # the pocket behind the lids
POCKET_FLOOR = 7787  # a vertex deep in it


def paint(vertices_mm: Floats, source: Source, crop: Crop) -> Labels:
    """Region of each triangle of the crop; the whole skull is FOREHEAD or TEMPLE, as if bald."""
    half = len(crop.triangles) // 2
    left = crop.triangles[:half]
    index = np.full(len(source.vertices_dm), -1)
    index[crop.kept] = np.arange(len(crop.kept))
    brush = Brush(vertices_mm, left)
    labels = np.full(half, Region.FOREHEAD, dtype=np.uint8)
    for region, line, seed in PATCHES:
        labels[brush.fill(brush.line(index[list(line)].tolist()), int(index[seed]))] = region
    _paint_masks(labels, source, crop, vertices_mm, index)
    wet = index[LID_RINGS]
    pocket = brush.fill(brush.ring(wet), int(index[POCKET_FLOOR]))
    flesh = np.isin(left[pocket], wet).any(axis=1)
    labels[pocket] = np.where(flesh, Region.LID_LOWER_OWN_LEFT, Region.SOCKET)
    _close_gaps(labels, left)
    mirror = np.array([Region(label).mirrored for label in labels], dtype=np.uint8)
    return np.concatenate([labels, mirror])


def masked(source: Source, crop: Crop, name: str) -> NDArray[np.bool_]:
    """Triangles (T,) of the crop whose centre lies in a painted UV mask of the source."""
    mask = source.mask(name)
    row = ((1.0 - crop.uv[:, 1]) * mask.shape[0]).astype(int).clip(0, mask.shape[0] - 1)
    column = (crop.uv[:, 0] * mask.shape[1]).astype(int).clip(0, mask.shape[1] - 1)
    return mask[row, column] > 0.5


def ear_triangles(source: Source, crop: Crop) -> NDArray[np.bool_]:
    """Own-left triangles (T/2,) of the ear, front and back."""
    half = len(crop.triangles) // 2
    corners = crop.kept[crop.triangles[:half]]
    return masked(source, crop, "ears")[:half] & ~np.isin(corners, EAR_FRONT).any(axis=1)


def _paint_masks(
    labels: Labels, source: Source, crop: Crop, vertices_mm: Floats, index: Ints
) -> None:
    half = len(labels)
    labels[masked(source, crop, "inside-mouth")[:half]] = Region.SOCKET
    labels[ear_triangles(source, crop)] = Region.EAR_OWN_LEFT
    lips = masked(source, crop, "lips")[:half]
    seam = vertices_mm[index[list(SEAM)]]
    centre = vertices_mm[crop.triangles[:half]].mean(axis=1)
    above = centre[:, 1] > np.interp(centre[:, 0], seam[:, 0], seam[:, 1])
    labels[lips & above] = Region.LIP_UPPER
    labels[lips & ~above] = Region.LIP_LOWER


def _close_gaps(labels: Labels, triangles: Ints) -> None:
    """Scraps that no line took, and islands cut off, join the neighbour they touch longest."""
    near = neighbours(triangles)
    scrap = np.zeros(len(labels), dtype=bool)
    for region in np.unique(labels[labels != Region.SOCKET]):
        pieces = components(near, labels == region)
        for piece in pieces[1:]:
            scrap[piece] = True
    while scrap.any():
        for triangle in np.flatnonzero(scrap):
            around = [n for n in near[triangle] if not scrap[n] and labels[n] != Region.SOCKET]
            if around:
                found, count = np.unique(labels[around], return_counts=True)
                labels[triangle] = found[np.argmax(count)]
                scrap[triangle] = False


def neighbours(triangles: Ints) -> list[list[int]]:
    """For each triangle, those it shares a side with."""
    owner: dict[tuple[int, int], int] = {}
    near: list[list[int]] = [[] for _ in triangles]
    for number, corners in enumerate(np.sort(triangles, axis=1).tolist()):
        for side in ((corners[0], corners[1]), (corners[1], corners[2]), (corners[0], corners[2])):
            other = owner.setdefault(side, number)
            if other != number:
                near[number].append(other)
                near[other].append(number)
    return near


def components(near: list[list[int]], chosen: NDArray[np.bool_]) -> list[list[int]]:
    """Connected pieces of the chosen triangles, largest first."""
    left = set(np.flatnonzero(chosen).tolist())
    pieces = []
    while left:
        waiting = [left.pop()]
        piece = []
        while waiting:
            piece.append(waiting.pop())
            fresh = [n for n in near[piece[-1]] if n in left]
            left.difference_update(fresh)
            waiting += fresh
        pieces.append(piece)
    return sorted(pieces, key=len, reverse=True)


def pocket_rim(triangles: Ints, index: Ints) -> Ints:
    """The pocket's vertices next to the lids' wet edge; between the two lies visible flesh."""
    touching = triangles[np.isin(triangles, index[LID_RINGS]).any(axis=1)]
    return np.intersect1d(touching, index[POCKET])
