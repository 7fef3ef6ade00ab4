"""Plain lengths of a fitted head in millimetres, point to point; no judgement on any of them."""

import numpy as np
from numpy.typing import NDArray

from sitwell.head.surface import SIDES, Head

Array = NDArray[np.float64]


def head_sizes(head: Head) -> dict[str, float]:
    """Lengths in mm by name.

    ``nose_lean_mm`` is positive where the tip lies toward the sitter's own left of the mid-face
    plane (the plane across the line between the eyeballs' centres, through their midpoint);
    ``ear_out_*_mm`` is how far the ear's outer edge stands farther from that plane than the
    tragus before it.
    """
    across, midpoint = _mid_plane(head)
    sizes = {
        "interpupillary_mm": _apart(*(head.eye_centre_mm[side] for side in SIDES)),
        "face_breadth_mm": _between(head, "cheekbone_own_left", "cheekbone_own_right"),
        "face_height_mm": _between(head, "hairline", "chin"),
        "lower_face_height_mm": _between(head, "nose_root", "chin"),
        "nose_length_mm": _between(head, "nose_root", "nose_base"),
        "nose_width_mm": _between(head, "nose_wing_own_left", "nose_wing_own_right"),
        "nose_lean_mm": float((head.point("nose_tip") - midpoint) @ across),
        "mouth_width_mm": _between(head, "mouth_corner_own_left", "mouth_corner_own_right"),
    }
    for side in SIDES:
        out = abs((head.point(f"ear_outer_{side}") - midpoint) @ across)
        root = abs((head.point(f"tragus_{side}") - midpoint) @ across)
        sizes[f"ear_out_{side}_mm"] = float(out - root)
        sizes[f"ear_length_{side}_mm"] = _between(head, f"ear_top_{side}", f"ear_lobe_{side}")
        sizes[f"eye_opening_{side}_mm"] = _between(head, f"lid_upper_{side}", f"lid_lower_{side}")
    return sizes


def _mid_plane(head: Head) -> tuple[Array, Array]:
    """The unit vector to the sitter's own left and a point of the mid-face plane."""
    own_left, own_right = (np.asarray(head.eye_centre_mm[side], dtype=float) for side in SIDES)
    across = own_left - own_right
    return across / np.linalg.norm(across), (own_left + own_right) / 2


def _between(head: Head, first: str, second: str) -> float:
    return _apart(head.point(first), head.point(second))


def _apart(first: NDArray[np.floating], second: NDArray[np.floating]) -> float:
    return float(np.linalg.norm(np.asarray(first, dtype=float) - np.asarray(second, dtype=float)))
