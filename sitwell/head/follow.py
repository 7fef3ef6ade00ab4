"""Skin followed from frame to frame: how far two frames' skins lie apart on the chart.

Landmarks slide over the skin as a head turns; brows, creases, freckles and pores don't. Two frames
unrolled on the fitted head (``unroll.py``) would lie on each other if pose and shape were right.
Where they don't, windows of skin are slid until they do (B. D. Lucas and T. Kanade, "An iterative
image registration technique", 1981), and the slide is evidence on both frames' poses and the shape.
Light differs from frame to frame, so each window is compared by its detail alone: logarithm of
light, less its surroundings, over its own contrast.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.head.evidence import Evidence
from sitwell.head.pose import HeadPose, project
from sitwell.head.unroll import STEP_MM, WINDOW_MM, Plane, Unrolled, skin_chart, window_basis

# Detail between these two sizes is compared, coarse first: a head that still lies some millimetres
# off is drawn near by it, and then fine detail, which shading does not make, has the last word.
ROUNDS_MM = ((2.0, 8.0, 6.0), (1.2, 5.0, 5.0), (0.7, 3.0, 4.0), (0.7, 3.0, 4.0), (0.7, 3.0, 4.0))
MOST_APART_DEG = 50.0  # frames turned farther from each other show too little of the same skin
_LEAST_ALIKE = 0.2  # correlation of a window in two frames below which it is not followed
_LEAST_SHOWN = 0.5  # of a window
_FARTHEST_MM = 3.0
_FEWEST_WINDOWS = 6
_SOBEL = 16.0 * STEP_MM  # what OpenCV's 3 x 3 gives for a sum of two slopes of 1 a mm
_LEAST_REST = 0.02  # of a window's contrast that no two frames share
# Neighbouring cells of the chart are not independent: so many count as one. Smoothing explains
# six; the rest is what shading does to many at once. Chosen on two sets of pictures by another
# renderer (builders/traced/sittings.py) so that nine in ten truths lie in the stated band.
_CELLS_ALIKE = 30.0
# Shine, folds and what the head can't be shaped like move a window by so much, by itself.
_FLOOR_MM = 0.3
_DEGREES_OF_FREEDOM = 4.0  # of Student's distribution, which holds wrong windows down

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """How m windows of skin in frame ``second`` lie off those in frame ``first``.

    ``windows`` (m,) count the chart's; ``drift_mm`` (m, 2) is on the chart, across and down, with
    the inverse covariance ``precision`` (m, 2, 2).
    """

    first: int
    second: int
    windows: NDArray[np.int64]
    drift_mm: Array
    precision: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Slide:
    """How the windows of one frame moved on the chart (M, 2) since it was unrolled, in mm, and the
    slope (M, 2, K + E + 6) of that by shape in sigmas, expression and pose.
    """

    moved_mm: Array
    by_shape: Array
    by_own: Array


def ties(
    unrolled: Mapping[int, Unrolled],
    poses: Sequence[HeadPose],
    sizes_mm: tuple[float, float, float],
) -> list[Tie]:
    """The ties between all frames unrolled, by their number, that are near enough in pose.

    ``sizes_mm`` is of ROUNDS_MM.
    """
    finest, coarsest, window = sizes_mm
    planes = {
        index: (_detail(each, finest, coarsest), each.seen) for index, each in unrolled.items()
    }
    found = []
    for first, second in combinations(planes, 2):
        if _apart_deg(poses[first], poses[second]) < MOST_APART_DEG:
            tie = _tie(first, second, planes[first], planes[second], window)
            found += [] if tie is None else [tie]
    return found


def _apart_deg(one: HeadPose, other: HeadPose) -> float:
    cosine = (np.trace(one.rotation.T @ other.rotation) - 1.0) / 2.0
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _detail(unrolled: Unrolled, finest_mm: float, coarsest_mm: float) -> Plane:
    """Detail of the light between two sizes, 0 where the skin is not seen."""
    seen = unrolled.seen
    smooth = [
        _blur(unrolled.light, size) / np.maximum(_blur(seen, size), 1e-3)
        for size in (finest_mm, coarsest_mm)
    ]
    return np.asarray((smooth[0] - smooth[1]) * seen, dtype=np.float32)


def _blur(plane: Plane, size_mm: float) -> Plane:
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), size_mm / STEP_MM), dtype=np.float32)


def _tie(
    first: int,
    second: int,
    one: tuple[Plane, Plane],
    other: tuple[Plane, Plane],
    window_mm: float,
) -> Tie | None:
    """One Lucas-Kanade step in every window that both frames show alike."""
    seen = one[1] * other[1]
    shown = _blur(seen, window_mm)
    even, alike = _evened((one[0], other[0]), seen, shown, window_mm)
    inner = np.asarray(cv2.erode(seen, np.ones((3, 3))), dtype=np.float32)
    rest = (even[0] - even[1]) * inner
    both = even[0] + even[1]
    across, down = (
        np.asarray(cv2.Sobel(both, cv2.CV_32F, *way), dtype=np.float32) * inner / _SOBEL
        for way in ((1, 0), (0, 1))
    )
    chart = skin_chart()
    row, column = chart.rows[chart.windows], chart.columns[chart.windows]
    cells = 2.0 * np.pi * (window_mm / STEP_MM) ** 2

    def sums(plane: Plane) -> Array:
        return _blur(plane, window_mm)[row, column].astype(np.float64) * cells

    # only the detail that both frames show tells of a slide; the rest is noise in either
    same = np.maximum(alike[row, column], _LEAST_ALIKE).astype(np.float64) ** 2
    xx, xy, yy = (same * sums(product) for product in (across**2, across * down, down**2))
    matrix = np.stack([np.stack([xx, xy], axis=1), np.stack([xy, yy], axis=1)], axis=2)
    pull = np.stack([sums(across * rest), sums(down * rest)], axis=1)
    held = (1e-3 * (xx + yy) + 1e-9)[:, None, None] * np.eye(2)
    drift_mm = np.linalg.solve(matrix + held, pull[:, :, None])[:, :, 0]
    good = (shown[row, column] > _LEAST_SHOWN) & (alike[row, column] > _LEAST_ALIKE)
    windows = np.flatnonzero(good & (np.linalg.norm(drift_mm, axis=1) < _FARTHEST_MM))
    if len(windows) < _FEWEST_WINDOWS:
        return None
    noise = np.maximum(sums(rest**2) / np.maximum(sums(inner), 1.0), _LEAST_REST)
    own = min((WINDOW_MM / STEP_MM) ** 2 / cells, 1.0)  # windows overlap: each cell counts once
    tight = matrix[windows] * (own / _CELLS_ALIKE / noise[windows])[:, None, None]
    spread = np.linalg.inv(tight + 1e-6 * np.eye(2)) + _FLOOR_MM**2 * np.eye(2)
    return Tie(
        first=first,
        second=second,
        windows=windows,
        drift_mm=drift_mm[windows].astype(np.float64),
        precision=np.linalg.inv(spread).astype(np.float64),
    )


def _evened(
    details: tuple[Plane, Plane], seen: Plane, shown: Plane, window_mm: float
) -> tuple[list[Plane], Plane]:
    """Both details with their surroundings' mean taken out and at one contrast, and how alike they
    are: their correlation around each cell.
    """
    share = np.maximum(shown, 1e-3)

    def mean(plane: Plane) -> Plane:
        return np.asarray(_blur(plane * seen, window_mm) / share, dtype=np.float32)

    middles = [mean(detail) for detail in details]
    contrasts = [
        np.sqrt(np.maximum(mean(detail * detail) - middle * middle, 1e-9), dtype=np.float32)
        for detail, middle in zip(details, middles, strict=True)
    ]
    even = [
        np.asarray((detail - middle) / contrast, dtype=np.float32)
        for detail, middle, contrast in zip(details, middles, contrasts, strict=True)
    ]
    both = mean(details[0] * details[1]) - middles[0] * middles[1]
    return even, np.asarray(both / (contrasts[0] * contrasts[1]), dtype=np.float32)


def slide(
    unrolled: Unrolled,
    shape: Array,
    expression: Array,
    pose: HeadPose,
    focal_px: float,
    centre_px: Array,
) -> Slide:
    """Where one frame's windows lie by this shape, expression and pose; Slide tells the units."""
    basis = window_basis()
    points = basis.at(shape, expression)
    moved_px = project(points, pose, focal_px, centre_px) - unrolled.spots_px
    turned = points @ pose.rotation.T
    seen = turned + pose.place_mm
    far = -seen[:, 2]
    by_place = np.zeros((len(points), 2, 3))
    by_place[:, 0, 0], by_place[:, 1, 1] = focal_px / far, -focal_px / far
    by_place[:, 0, 2] = focal_px * seen[:, 0] / far**2
    by_place[:, 1, 2] = -focal_px * seen[:, 1] / far**2
    by_place = unrolled.to_chart @ by_place
    by_slider = (by_place @ pose.rotation) @ basis.slope_mm
    by_turn = np.cross(turned[:, None], by_place)  # of a small rotation w: place . (w x turned)
    return Slide(
        moved_mm=np.einsum("nab,nb->na", unrolled.to_chart, moved_px),
        by_shape=by_slider[:, :, : len(shape)],
        by_own=np.concatenate([by_slider[:, :, len(shape) :], by_turn, by_place], axis=2),
    )


def tie_evidence(tie: Tie, first: Slide, second: Slide) -> Evidence:
    """What a tie says of the shape and of both frames' own unknowns, first's before second's."""
    n = tie.windows
    rest = tie.drift_mm - (second.moved_mm[n] - first.moved_mm[n])
    strange = np.einsum("na,nab,nb->n", rest, tie.precision, rest)
    trust = (1.0 + 2.0 / _DEGREES_OF_FREEDOM) / (1.0 + strange / _DEGREES_OF_FREEDOM)
    precision = tie.precision * trust[:, None, None]
    slope = np.concatenate(
        [second.by_shape[n] - first.by_shape[n], -first.by_own[n], second.by_own[n]], axis=2
    )
    weighted = (precision @ slope).reshape(-1, slope.shape[2])
    return Evidence(
        matrix=slope.reshape(weighted.shape).T @ weighted,
        pull=weighted.T @ rest.reshape(-1),
        misfit=float(strange.sum()),
    )
