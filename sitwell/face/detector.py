"""Where the bundle's finder sees faces in a picture, and how their eyes' line leans.

The finder is a single-shot detector: 896 fixed anchors, each with a score, a box and six points of
the face. Its sizes, thresholds and the growth of the region of interest are options of the public
graphs google-ai-edge/mediapipe, tasks/cc/vision/face_detector/face_detector_graph.cc and
face_detector_graph_options.proto (read 2026-11); tests hold the result against that library.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.face.bundle import FINDER, run_net
from sitwell.face.region import Region

Pixels = NDArray[np.uint8]
Array = NDArray[np.float64]

_SIDE_PX = 128
_GRIDS = ((16, 2), (8, 6))  # cells a side, and anchors in each cell
_LEAST_SCORE = 0.5
_SAME_FACE_OVERLAP = 0.5  # shared area over joint area
_REGION_GROWTH = 1.5
_EYES = (0, 1)  # of the six points: own right, own left


@dataclass(frozen=True, slots=True, kw_only=True)
class Detection:
    """A face: its box's middle and size, (2,) each, and six points (6, 2), in picture pixels."""

    middle_px: Array
    size_px: Array
    points_px: Array

    def region(self) -> Region:
        """Where its landmarks are looked for: the box grown, and turned to have the eyes level."""
        own_right, own_left = self.points_px[list(_EYES)]
        across = own_left - own_right
        return Region(
            middle_px=self.middle_px,
            size_px=_REGION_GROWTH * self.size_px,
            lean_rad=float(np.arctan2(across[1], across[0])),
        )


def detect(rgb: Pixels) -> list[Detection]:
    """The faces that the finder sees in a picture (h, w, 3), the surest first."""
    side = float(max(rgb.shape[:2]))
    frame = Region(middle_px=np.array(rgb.shape[1::-1]) / 2, size_px=np.array([side, side]))
    pixels = frame.sampled(rgb, _SIDE_PX, black_beyond=True)
    given = pixels.astype(np.float32) / np.float32(127.5) - np.float32(1.0)
    places, logits = run_net(FINDER, given, ("regressors", "classificators"))
    chance = 1 / (1 + np.exp(-np.clip(logits.reshape(-1).astype(np.float64), -100, 100)))
    seen = chance >= _LEAST_SCORE
    rows = places.reshape(-1, 8, 2)[seen].astype(np.float64) / _SIDE_PX
    rows[:, (0, *range(2, 8))] += _anchors()[seen][:, None]
    return [
        Detection(
            middle_px=frame.to_picture(row[:1])[0],
            size_px=row[1] * side,
            points_px=frame.to_picture(row[2:]),
        )
        for row in _merged(rows, chance[seen])
    ]


def _merged(rows: Array, weights: Array) -> list[Array]:
    """One row (8, 2) for each face: the surest and those over it, weighed by how sure they are."""
    merged = []
    left = np.argsort(-weights, kind="stable")
    while len(left):
        over = _overlap(rows[left], rows[left[0]]) > _SAME_FACE_OVERLAP
        over[0] = True
        merged.append(np.average(rows[left[over]], axis=0, weights=weights[left[over]]))
        left = left[~over]
    return merged


def _overlap(rows: Array, one: Array) -> Array:
    """Shared area over joint area of boxes (N, 8, 2) with one (8, 2)."""
    low, high = rows[:, 0] - rows[:, 1] / 2, rows[:, 0] + rows[:, 1] / 2
    own_low, own_high = one[0] - one[1] / 2, one[0] + one[1] / 2
    shared = np.clip(np.minimum(high, own_high) - np.maximum(low, own_low), 0, None).prod(axis=1)
    joint = rows[:, 1].prod(axis=1) + one[1].prod() - shared
    return np.asarray(shared / np.maximum(joint, 1e-12))


@cache
def _anchors() -> Array:
    """The anchors' middles (896, 2) in shares of the finder's picture, x before y."""
    middles = []
    for cells, each in _GRIDS:
        steps = (np.arange(cells) + 0.5) / cells
        grid = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
        middles.append(np.repeat(grid, each, axis=0))
    return np.concatenate(middles)
