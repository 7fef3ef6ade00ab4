"""Plain lengths of a fitted head in millimetres, point to point; no judgement on any of them."""

from collections.abc import Callable, Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.basis import eye_centre_basis, named_point_basis
from sitwell.head.surface import SIDES, Head

Array = NDArray[np.float64]
_Point = Callable[[str], Array]

# Draws from the fit's own uncertainty; their scatter is a size's spread.
_DRAWS, _SEED = 200, 1
# The equations' spread times this holds nine of ten invented heads within 1.645 of it
# (benchmarks/accuracy_read.py); noses' width and ears take more on sitters of another kind, on whom
# these two were set (benchmarks/accuracy_other_faces.py). Lids that were measured in the picture
# have a spread of their own, in mm for one eye.
_WIDENED = 1.2
_WIDENED_MORE = {"nose_lean_mm": 1.25, "nose_width_mm": 2.0} | {
    f"ear_out_{side}_mm": 1.7 for side in SIDES
}
LID_SPREAD_MM = 0.6
# How far a tragus, which no mark holds, stands off the ear's front: 4.5 mm on our mean head, 1.5 on
# scans of people.
_TRAGUS_MM = 1.5
# Sizes that landmarks say nothing of: unknown unless these marks, placed or found, speak of them.
RESTS_ON: Mapping[str, tuple[str, ...]] = {
    "eye_opening_ratio": tuple(f"lid_upper_{side}" for side in SIDES),
    **{f"eye_opening_{side}_mm": (f"lid_upper_{side}",) for side in SIDES},
    **{f"ear_out_{side}_mm": (f"ear_outer_{side}",) for side in SIDES},
    **{f"ear_length_{side}_mm": (f"ear_top_{side}", f"ear_lobe_{side}") for side in SIDES},
}


def head_sizes(head: Head) -> dict[str, float]:
    """Lengths in mm by name, and the ratio ``eye_opening_ratio`` of own left over own right.

    ``nose_lean_mm`` is positive where the tip lies toward the sitter's own left of the mid-face
    plane (the plane across the line between the eyeballs' centres, through their midpoint);
    ``ear_out_*_mm`` is how far the ear's outer edge stands farther from that plane than the
    tragus before it.
    """
    eyes = np.stack([np.asarray(head.eye_centre_mm[side], dtype=float) for side in SIDES])
    return _sizes(lambda name: np.asarray(head.point(name), dtype=float), eyes)


def size_spreads(
    shape: Array,
    covariance: Array,
    *,
    size_share: float,
    hairline_spread_mm: float = 0.0,
    eye_ratio_spread: float = 0.0,
) -> dict[str, float]:
    """One sigma of each of ``head_sizes``, for shape sliders (K,) with their covariance (K, K).

    ``size_share`` is one sigma of all lengths together, as a share of them: they rest on a distance
    between the pupils that may only be the usual one. Lids are taken for
    measured in a picture; ``hairline_spread_mm`` is that of the hairline up the scalp, which no
    slider moves, ``eye_ratio_spread`` the one of the ratio of the openings.
    """
    rng = np.random.default_rng(_SEED)
    strength, axes = np.linalg.eigh(covariance)
    steps = rng.normal(size=(_DRAWS, len(shape))) * np.sqrt(np.clip(strength, 0.0, None))
    draws = [_sizes_of_shape(shape + step @ axes.T) for step in steps]
    spreads = {
        name: _WIDENED_MORE.get(name, _WIDENED) * float(np.std([sizes[name] for sizes in draws]))
        for name in draws[0]
    }
    spreads |= {f"eye_opening_{side}_mm": LID_SPREAD_MM for side in SIDES}
    for out in (f"ear_out_{side}_mm" for side in SIDES):
        spreads[out] = float(np.hypot(spreads[out], _TRAGUS_MM))
    spreads["eye_opening_ratio"] = eye_ratio_spread
    spreads["face_height_mm"] = float(np.hypot(spreads["face_height_mm"], hairline_spread_mm))
    for name, size in _sizes_of_shape(shape).items():
        if name.endswith("_mm"):
            spreads[name] = float(np.hypot(spreads[name], size_share * size))
    return spreads


def _sizes_of_shape(shape: Array) -> dict[str, float]:
    names = _point_names()
    basis = named_point_basis(names)
    points = basis.at(shape, np.zeros(len(basis.expression_mm)))
    mean, slope = eye_centre_basis()
    place = dict(zip(names, points, strict=True))
    return _sizes(place.__getitem__, mean + np.tensordot(shape, slope, 1))


@cache
def _point_names() -> tuple[str, ...]:
    """The points that the sizes use, in the order of first use."""
    used: dict[str, None] = {}

    def noted(name: str) -> Array:
        used[name] = None
        return np.zeros(3)

    _sizes(noted, np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]]))
    return tuple(used)


def _sizes(point: _Point, eyes: Array) -> dict[str, float]:
    midpoint = eyes.mean(axis=0)
    across = (eyes[0] - eyes[1]) / np.linalg.norm(eyes[0] - eyes[1])

    def between(first: str, second: str) -> float:
        return float(np.linalg.norm(point(first) - point(second)))

    sizes = {
        "interpupillary_mm": float(np.linalg.norm(eyes[0] - eyes[1])),
        "face_breadth_mm": between("cheekbone_own_left", "cheekbone_own_right"),
        "face_height_mm": between("hairline", "chin"),
        "lower_face_height_mm": between("nose_root", "chin"),
        "nose_length_mm": between("nose_root", "nose_base"),
        "nose_width_mm": between("nose_wing_own_left", "nose_wing_own_right"),
        "nose_lean_mm": float((point("nose_tip") - midpoint) @ across),
        "mouth_width_mm": between("mouth_corner_own_left", "mouth_corner_own_right"),
    }
    for side in SIDES:
        out = abs((point(f"ear_outer_{side}") - midpoint) @ across)
        root = abs((point(f"tragus_{side}") - midpoint) @ across)
        sizes[f"ear_out_{side}_mm"] = float(out - root)
        sizes[f"ear_length_{side}_mm"] = between(f"ear_top_{side}", f"ear_lobe_{side}")
        sizes[f"eye_opening_{side}_mm"] = between(f"lid_upper_{side}", f"lid_lower_{side}")
    sizes["eye_opening_ratio"] = _ratio(sizes)
    return sizes


def _ratio(sizes: Mapping[str, float]) -> float:
    own_left, own_right = (sizes[f"eye_opening_{side}_mm"] for side in SIDES)
    return own_left / max(own_right, 0.1)
