"""The head brought to a photograph's outline: scalp out to the hair, cheeks and ears to their edge.

Hair becomes a shell around the skull: at each angle of the picture the scalp goes outward by as
much as the hair stands out there, fading to nothing toward the hairline; what reaches farther
still, wisps and long hair, is left to the sheet behind (``sheet.py``). Elsewhere only what lies
near the outline moves, and not far.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from sitwell.likeness.body import Body
from sitwell.likeness.drawn import draw
from sitwell.likeness.outline import Around, at_angle, filled_around, first_left, last
from sitwell.likeness.plate import Classes, Plate

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

INSIDE_MM = 1.5  # of the hair's edge, where its colours are its own
LEAST_OUT, MOST_OUT = 0.88, 1.8  # times the bald head
BESIDE_OUT = 1.3  # below the scalp's own outline, where hair hangs beside the face
BELOW_DEG = 50.0  # to both sides of straight down: neck and clothes
SMOOTH_DEG, EDGE_SMOOTH_DEG = 4.0, 1.5
EDGE_MOST_MM, EDGE_REACH_MM = 7.0, 7.0
HAIRY = 0.4


def outward(
    body: Body,
    seen: Floats,
    places: Floats,
    middle: Floats,
    plate: Plate,
    classes: Classes,
    mm: float,
) -> tuple[Floats, Floats]:
    """Steps of the scalp (N, 3), in the camera's mm, and of the edges (N, 2), in plate pixels.

    ``seen`` (N, 3) are the vertices before the camera, ``middle`` (3,) the head's, ``places``
    (N, 2) where the plate has them; ``mm`` is a plate pixel's width.
    """
    height, width = plate.alpha.shape
    around = Around(
        middle=places[~body.of_neck].min(axis=0) / 2 + places[~body.of_neck].max(axis=0) / 2
    )
    shown, _ = draw(places, -1.0 / seen[:, 2], body.triangles[body.of_head], height, width)
    mesh = last(around.unrolled((shown >= 0).astype(np.uint8) * 255) >= 128)
    person = first_left(around.unrolled(plate.alpha) >= 128, 0.75 * mesh)
    radius, bins, way = around.polar(places)
    scalp, hairy, whole = _kinds(
        body, plate, classes, around, mesh, person, (radius, bins, way), mm
    )
    down = np.abs(np.arange(len(mesh)) - 90.0) < BELOW_DEG
    goal = np.clip((person - INSIDE_MM / mm) / np.maximum(mesh, 1.0), LEAST_OUT, MOST_OUT)
    goal = np.where(scalp, goal, np.where(hairy, np.minimum(goal, BESIDE_OUT), 1.0))
    out = filled_around(goal, whole & ~down, SMOOTH_DEG)
    out = np.where(down, 1.0, out)
    mean = float(np.median(out[scalp & whole])) if (scalp & whole).any() else 1.0
    size = np.stack([at_angle(out, bins), at_angle(out, bins), np.full(len(bins), mean)], axis=1)
    step = (size - 1.0) * (seen - middle) * body.scalp[:, None]
    apart = np.clip(person - mesh, -EDGE_MOST_MM / mm, EDGE_MOST_MM / mm)
    apart = np.where(scalp | hairy | down | ~whole, 0.0, apart)
    apart = gaussian_filter1d(apart, EDGE_SMOOTH_DEG, mode="wrap")
    near = np.exp(-np.maximum(at_angle(mesh, bins) - radius, 0.0) * mm / EDGE_REACH_MM)
    share = (1.0 - body.scalp) * near * ~body.of_neck
    return step, (at_angle(apart, bins) * share)[:, None] * way


def _kinds(
    body: Body,
    plate: Plate,
    classes: Classes,
    around: Around,
    mesh: Floats,
    person: Floats,
    polar: tuple[Floats, Floats, Floats],
    mm: float,
) -> tuple[Flags, Flags, Flags]:
    """By angle: whether scalp makes the outline, hair lies beyond, the photograph holds it."""
    radius, bins, _ = polar
    at_edge = radius > at_angle(mesh, bins) - 4.0 / mm
    count = len(mesh)
    which = np.round(bins).astype(int) % count
    weight = np.bincount(which[at_edge], minlength=count).astype(np.float64)
    sums = np.bincount(which[at_edge], weights=body.scalp[at_edge], minlength=count)
    scalp = filled_around(sums / np.maximum(weight, 1.0), weight > 0, 2.0) > 0.3
    angles = np.arange(count) * 2.0 * np.pi / count
    way = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    beyond = around.middle + way * (np.minimum(mesh + 4.0 / mm, 0.5 * (mesh + person)))[:, None]
    hairy = (person - mesh > 3.0 / mm) & (classes.at(classes.hair, beyond) > HAIRY)
    left, top, right, bottom = plate.photo
    edge = around.middle + way * person[:, None]
    whole = (
        (edge[:, 0] > left + 2) & (edge[:, 0] < right - 2) & (edge[:, 1] > top + 2)
        & (edge[:, 1] < bottom - 2)
    )  # fmt: skip
    return scalp, hairy, whole
