"""Where a head carries texels, and what lies at each of them: worked through piece by piece.

There are about a million: whatever is held for all of them is held in single precision.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.facing import vertex_normals
from sitwell.head.regions import EAR, EYE, FACE, Region
from sitwell.head.surface import Head
from sitwell.scene.paint import Grid, lay_out
from sitwell.scene.refine import Refinement, refine
from sitwell.scene.skin import middle_of_face

FACE_TEXEL_MM, FINE_TEXEL_MM, REST_TEXEL_MM = 0.55, 0.42, 1.1
FINE = frozenset(
    region for region in Region if region.name.startswith(("LID", "BROW", "LIP", "NOS"))
)
BARE = EYE | {Region.SOCKET}
PIECE = 1 << 15  # texels worked through at once: what belongs to them stays in the cache

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Chosen = slice | NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A head's N texels: their ``grid`` on its finer surface, and the ``region`` (N,) of each.

    ``middle`` (N,) marks those on the middle of the face.
    """

    head: Head
    fine: Refinement
    grid: Grid
    region: NDArray[np.uint8]
    middle: NDArray[np.bool_]

    def pieces(self) -> Iterator[slice]:
        """All texels, some at a time."""
        return pieces(len(self.region))

    def spread(self, values: Floats, chosen: Chosen) -> Floats:
        """Values (n, C) at the chosen texels, of values (V, C) at the finer surface's corners."""
        corners = self.fine.triangles[self.grid.triangle[chosen]]
        weights = self.grid.weights[chosen]
        sums = weights[:, :1] * values[corners[:, 0]]
        sums += weights[:, 1:2] * values[corners[:, 1]]
        sums += weights[:, 2:] * values[corners[:, 2]]
        return sums

    def spread_all(self, values: Floats) -> Singles:
        """The same (N, C) at every texel."""
        every = np.empty((len(self.region), values.shape[1]), dtype=np.float32)
        for piece in self.pieces():
            every[piece] = self.spread(values, piece)
        return every

    def places(self, chosen: Chosen) -> Floats:
        """Where the chosen texels lie, (n, 3) in mm."""
        vertices = self.head.vertices_mm.astype(np.float64)
        return self.spread(self.fine.places(vertices, np.eye(3)), chosen)

    def sums(self, values: Singles | Floats) -> Floats:
        """Values (N,) summed over each of the head's own triangles (T,)."""
        parent = self.grid.triangle // 4
        count = len(self.head.triangles)
        return np.asarray(np.bincount(parent, weights=values, minlength=count), dtype=np.float64)


def pieces(count: int) -> Iterator[slice]:
    """Slices that together make ``count``."""
    return (slice(first, min(first + PIECE, count)) for first in range(0, count, PIECE))


def cover(head: Head) -> Cover:
    """A head's texels: fine on lids, brows, lips and nose, coarse on the scalp."""
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
    of_triangle = np.repeat(head.region_of_triangle, 4)
    grid = lay_out(corners, texel_mm[of_triangle])
    middle = middle_of_face(vertices, head.triangles, head.region_of_triangle)
    return Cover(
        head=head,
        fine=fine,
        grid=grid,
        region=of_triangle[grid.triangle],
        middle=middle[grid.triangle // 4],
    )
