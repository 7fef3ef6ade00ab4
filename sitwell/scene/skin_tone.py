"""How bright a sitter's skin is: that of the middle of the face, as the eye takes it."""

import numpy as np
from numpy.typing import NDArray

from sitwell.head.facing import vertex_normals
from sitwell.head.regions import Region

Floats = NDArray[np.float64]

# where hair seldom falls; the mean colour of what of it faces ahead is the sitter's tone
TONE_REGIONS = (Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT, Region.NOSE_RIDGE)
NO_WEIGHT = 1e-60
FRONT_COSINE = 0.7  # of the middle of the face: where cheeks turn aside it ends


def middle_of_face(
    vertices_mm: Floats, triangles: NDArray[np.int32], region: NDArray[np.integer]
) -> NDArray[np.bool_]:
    """Which triangles (T,) of a head are the middle of its face, by their region and normal."""
    normals = vertex_normals(vertices_mm, triangles)[triangles].mean(axis=1)
    ahead = normals[:, 2] > FRONT_COSINE * np.linalg.norm(normals, axis=1)
    return np.asarray(np.isin(region, TONE_REGIONS) & ahead)


def lightness_mean(light: NDArray[np.floating], weight: NDArray[np.floating]) -> Floats:
    """Mean (...,) of linear light (N, ...) as the eye takes it, by CIE lightness, its cube root.

    A plain mean is a shine's or a lit edge's more than the skin's: on glossy deep skin it was up to
    a stop above the median.
    """
    total = max(float(weight.sum()), NO_WEIGHT)
    return np.asarray(weight @ np.cbrt(light), dtype=np.float64) ** 3 / total**3
