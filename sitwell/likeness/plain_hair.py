"""Plain short hair for a drawn head: an even shell over the scalp, and strands that lie on it.

It stands for hair, not for the sitter's own. Its thickness and fall are design choices.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sitwell.head.regions import Region
from sitwell.head.surface import Head
from sitwell.likeness.pen import smoothed

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

TOP_MM, SIDE_MM = 22.0, 9.0
FADE_MM = 24.0  # from the hairline inward, until the hair stands at its full height
STRANDS, STRAND_POINTS = 170, 12
WHORL_BEHIND_MM = 35.0  # hair grows away from a whorl a little behind the crown
SPREAD_SEED = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainHair:
    """How far each of a skull's vertices is lifted (V, 3), and strands (S, P, 3), head frame, mm.

    ``strand_at`` (S, P) is the vertex that a strand's point moves with.
    """

    lift_mm: Floats
    strands_mm: Floats
    strand_at: Ints


def grow(
    head: Head, vertices: Floats, triangles: Ints, region: NDArray[np.uint8], normals: Floats
) -> PlainHair:
    """Hair on the scalp of a head's mesh with unit ``normals`` (V, 3)."""
    scalp = np.unique(triangles[region == Region.SCALP])
    edge = np.intersect1d(scalp, np.unique(triangles[region != Region.SCALP]))
    off_edge, _ = cKDTree(vertices[edge]).query(vertices[scalp])
    share = np.clip(off_edge / FADE_MM, 0.0, 1.0)
    rise = np.sqrt(share * (2.0 - share))
    upward = np.clip(normals[scalp, 1], 0.0, 1.0)
    lift = np.zeros_like(vertices)
    lift[scalp] = normals[scalp] * (rise * (SIDE_MM + (TOP_MM - SIDE_MM) * upward))[:, None]
    strands, at = _strands(head, vertices + lift, scalp)
    return PlainHair(lift_mm=lift, strands_mm=strands, strand_at=at)


def _strands(head: Head, shell: Floats, scalp: Ints) -> tuple[Floats, Ints]:
    """Strands along meridians about the whorl, every way round alike."""
    whorl = np.asarray(head.point("crown"), dtype=np.float64) - (0.0, 0.0, WHORL_BEHIND_MM)
    middle = np.array([0.0, 0.5 * whorl[1], whorl[2]])
    ahead, up = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])
    off = shell[scalp] - middle
    polar = np.arccos(np.clip(off @ up / np.linalg.norm(off, axis=1), -1.0, 1.0))
    around = np.arctan2(off[:, 0], off @ ahead)
    tree = cKDTree(_flat(polar, around))
    rng = np.random.default_rng(SPREAD_SEED)
    places, at = np.empty((STRANDS, STRAND_POINTS, 3)), np.empty((STRANDS, STRAND_POINTS), np.int32)
    for n, way in enumerate(np.linspace(-np.pi, np.pi, STRANDS, endpoint=False)):
        near = np.abs(np.angle(np.exp(1j * (around - way)))) < 0.1
        hairline = float(polar[near].max()) if near.any() else 1.0
        # every other one is rooted at the hairline, the rest anywhere on the way there
        last = hairline if n % 2 else rng.uniform(0.45, 1.0) * hairline
        first = max(last - rng.uniform(0.18, 0.45), 0.12)
        along = np.linspace(last, first, STRAND_POINTS)
        bend = way + rng.uniform(-0.02, 0.02) + 0.5 * (last - along)
        apart, index = tree.query(_flat(along, bend), k=8)
        weight = 1.0 / (apart + 0.02) ** 2
        weight /= weight.sum(axis=1, keepdims=True)
        rough = (weight[:, :, None] * shell[scalp[index]]).sum(axis=1)
        places[n] = smoothed(rough, 2.0)
        at[n] = scalp[index[:, 0]]
    return places, at


def _flat(polar: Floats, around: Floats) -> Floats:
    """Places on a disc about the whorl, where all ways round are alike."""
    return np.asarray(polar[:, None] * np.stack([np.cos(around), np.sin(around)], axis=1))
