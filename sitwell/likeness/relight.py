"""From the photograph's light to the planned one: by how much each spot gets brighter or darker.

The ratio of the new light to the old one, both on the fitted head and both against their mean on
the middle of the face, so that the skin keeps its tone. It is bounded, and the harder the
photograph's own light is, the less of it is laid on: what a reading of hard light misses would show
double.
"""

import numpy as np
from numpy.typing import NDArray

from sitwell.head.regions import Region
from sitwell.head.shading import LUMINANCE
from sitwell.head.surface import Head
from sitwell.likeness.body import Body

Floats = NDArray[np.float64]

UP_STOPS, DOWN_STOPS = 0.5, 0.9  # at most so much brighter and darker
FLAT_STOPS, HARD_STOPS = 0.5, 1.1  # between one cheek and the other: from all of it to none
LEAST_LIGHT = 0.12
ON_HAIR, ON_EYES = 0.6, 0.5


def stops(body: Body, new: Floats, old: Floats, hair: Floats, share: float) -> Floats:
    """By how many stops each vertex (N,) gets brighter; lights (N,) are 1 in the mean.

    What an open mouth shows is left as it is.
    """
    ratio = np.log2(np.maximum(new, LEAST_LIGHT) / np.maximum(old, LEAST_LIGHT))
    most = np.where(ratio > 0.0, UP_STOPS, DOWN_STOPS)
    kept = (1.0 - (1.0 - ON_HAIR) * hair) * np.where(body.of_eye, ON_EYES, 1.0)
    kept[body.mouth] = kept[-1] = 0.0
    return np.asarray(share * kept * most * np.tanh(ratio / most))


def hardness_stops(head: Head, colours: Floats, seen: Floats) -> float:
    """How many stops brighter one cheek is than the other in a frame's linear colours (N, 3)."""
    means = []
    for region in (Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT):
        mine = np.unique(head.triangles[head.region_of_triangle == region])
        weight = seen[mine]
        if weight.sum() < 1.0:
            return 0.0
        means.append(float(weight @ (colours[mine] @ LUMINANCE) / weight.sum()))
    return abs(float(np.log2(max(means[0], 1e-4) / max(means[1], 1e-4))))


def share_laid_on(hardness: float) -> float:
    """How much of the new light is laid on a photograph so hard, 0 to 1."""
    return float(np.clip((HARD_STOPS - hardness) / (HARD_STOPS - FLAT_STOPS), 0.0, 1.0))
