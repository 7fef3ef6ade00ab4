"""What can't be known of a head where glasses, hair, a hat, a beard, a mask or a hand hide it.

Told by the photographer or seen in the picture (``sight.py``), it comes to the same.

Hidden landmarks are the landmarker's guesses: they stay in the fit with a wider scatter. Lengths
that end in something hidden are not given at all. How far a guess is off was not measured; the
scatters below are judgements on the wide side.
"""

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.basis import USED_LANDMARKS
from sitwell.head.bias import LandmarkBias, trust_in
from sitwell.head.regions import Region
from sitwell.head.template import load_template

Array = NDArray[np.float64]

# One ear under hair, as the picture shows it; the photographer tells of both together.
EAR_COVERED: Mapping[str, str] = {
    "own_left": "hair-over-ear-own-left",
    "own_right": "hair-over-ear-own-right",
}
# Beginnings of the names of regions under each thing, and the scatter in mm of landmarks there.
_OVER: Mapping[str, tuple[tuple[str, ...], float]] = {
    "glasses": (("LID", "BROW", "NOSE_ROOT"), 1.5),
    "hair-over-ears": (("EAR", "TEMPLE"), 3.0),
    EAR_COVERED["own_left"]: (("EAR_OWN_LEFT", "TEMPLE_OWN_LEFT"), 3.0),
    EAR_COVERED["own_right"]: (("EAR_OWN_RIGHT", "TEMPLE_OWN_RIGHT"), 3.0),
    "hair-over-brows": (("FOREHEAD", "BROW"), 3.0),
    "hat": (("FOREHEAD", "TEMPLE", "SCALP"), 4.0),
    "beard": (("CHIN", "JAW", "UNDER_JAW", "UPPER_LIP_SKIN", "NECK"), 4.0),
    "mask": (("NOSE_", "NOSTRIL", "LIP_", "UPPER_LIP", "CHIN", "JAW", "UNDER_JAW", "CHEEK"), 5.0),
    "hand": (("CHIN", "JAW", "CHEEK", "LIP", "UPPER_LIP", "UNDER_JAW"), 4.0),
}
# Lengths of sizes.py that then have an end that nobody sees.
_UNKNOWN: Mapping[str, tuple[str, ...]] = {
    "glasses": (),
    "hair-over-ears": ("ear_",),
    EAR_COVERED["own_left"]: ("ear_out_own_left", "ear_length_own_left"),
    EAR_COVERED["own_right"]: ("ear_out_own_right", "ear_length_own_right"),
    "hair-over-brows": (),
    "hat": ("face_height", "ear_"),
    "beard": ("face_height", "lower_face_height"),
    "mask": ("nose_", "mouth_", "face_height", "lower_face_height"),
    "hand": ("mouth_", "face_height", "lower_face_height"),
}
# What marks may still tell though the landmarks can't.
_HIDES_LIDS = frozenset({"glasses"})
_GROWN = frozenset({"beard"})


def is_unknown(size_name: str, things: frozenset[str]) -> bool:
    """Whether a length of ``head_sizes`` can't be told with these things in the way."""
    return any(size_name.startswith(start) for thing in things for start in _UNKNOWN[thing])


def hides_lids(things: frozenset[str]) -> bool:
    """Whether lid edges in the picture may be a frame's or a brow's instead."""
    return bool(things & _HIDES_LIDS)


@lru_cache(maxsize=16)
def skin_under(things: frozenset[str]) -> NDArray[np.bool_]:
    """For each region, whether skin there may lie under these things and can't be followed.

    A beard grows on the skin and is followed with it; glasses stand before it and slide over it.
    """
    starts = tuple(start for thing in things - _GROWN for start in _OVER[thing][0])
    return np.array([Region(region).name.startswith(starts) for region in range(len(Region))])


@lru_cache(maxsize=16)
def precision_with(bias: LandmarkBias, things: frozenset[str]) -> Array:
    """The precision (M, M) of one frame's landmarks with these things in the way."""
    if not things:
        return trust_in(bias).in_frame
    scatter = np.repeat(_scatter_mm(things) ** 2, 2)
    extra = (bias.directions * scatter) @ bias.directions.T
    return np.asarray(np.linalg.inv(bias.by_frame + extra), dtype=np.float64)


def _scatter_mm(things: frozenset[str]) -> Array:
    """Extra scatter (N,) of the used landmarks."""
    template = load_template()
    triangles = template.landmark_triangle[USED_LANDMARKS]
    names = [Region(region).name for region in template.region_of_triangle[triangles]]
    return np.array([max(_scatter_at(name, thing) for thing in things) for name in names])


def _scatter_at(region_name: str, thing: str) -> float:
    starts, scatter_mm = _OVER[thing]
    return scatter_mm if region_name.startswith(starts) else 0.0
