"""Where the points that the net learns lie on a head: vertices and spots of our own mesh."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from builders.families.second_heads import HERE
from sitwell.face.points import NAMES, RIM_POINTS
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head, build_head
from sitwell.head.template import load_template

Floats = NDArray[np.float32]
_HAIRLINE_ASIDE_MM = (18.0, 36.0, 54.0)
_NECK_MM = (52.0, -150.0, -75.0)


@cache
def _landmark_of() -> dict[str, int]:
    """Which of the landmarker's points a name means."""
    jaw, brows, mouth = HERE[:17], HERE[17:27], HERE[48:]
    made = {
        "lips_upper_edge": mouth[14],
        "lips_lower_edge": mouth[18],
        "lower_lip_bottom": mouth[9],
    }
    for n in range(8):  # the usual order starts at the sitter's own right
        made[f"jaw_{n + 1}_own_right"], made[f"jaw_{n + 1}_own_left"] = jaw[n], jaw[16 - n]
    for n in range(5):
        made[f"brow_{n + 1}_own_right"], made[f"brow_{n + 1}_own_left"] = brows[n], brows[9 - n]
    for n, (right, left) in enumerate(((1, 5), (2, 4)), 1):
        made[f"upper_lip_{n}_own_right"], made[f"upper_lip_{n}_own_left"] = (
            mouth[right],
            mouth[left],
        )
    for n, (right, left) in enumerate(((11, 7), (10, 8)), 1):
        made[f"lower_lip_{n}_own_right"], made[f"lower_lip_{n}_own_left"] = (
            mouth[right],
            mouth[left],
        )
    return made


@cache
def _vertex_of() -> dict[str, int]:
    """Which vertex a name means: an ear's rim by the way from its middle, seen from the side."""
    head = build_head()
    points, made = head.vertices_mm.astype(float), {}
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        ear = np.unique(head.triangles[head.region_of_triangle == Region[f"EAR_{side.upper()}"]])
        middle = (points[ear].min(axis=0) + points[ear].max(axis=0)) / 2.0
        off = points[ear] - middle
        for n in range(RIM_POINTS):
            angle = 2 * np.pi * n / RIM_POINTS
            far = off[:, 1] * np.cos(angle) - off[:, 2] * np.sin(angle)
            made[f"ear_rim_{n + 1}_{side}"] = int(ear[np.argmax(far)])
        neck = np.array(_NECK_MM) * [sign, 1.0, 1.0]
        made[f"neck_{side}"] = int(np.argmin(np.linalg.norm(points - neck, axis=1)))
    return made


def points_on(head: Head, grows: NDArray[np.bool_], line_mm: float) -> Floats:
    """The points (P, 3) of ``NAMES`` in the head frame; ``head_top`` is the crown until seen."""
    template, vertices = load_template(), head.vertices_mm.astype(float)
    places = {}
    for name in NAMES:
        if name in _vertex_of():
            places[name] = vertices[_vertex_of()[name]]
        elif name in (marks := _landmark_of()):
            triangle = template.landmark_triangle[marks[name]]
            corners = vertices[template.triangles[triangle]]
            places[name] = template.landmark_weights[marks[name]].astype(float) @ corners
        elif not name.startswith(("hairline_", "head_top")):
            places[name] = np.asarray(head.point(name), dtype=float)
    if np.isfinite(line_mm):
        triangle, weights = template.hairline_walk[int(line_mm)]
        places["hairline"] = weights @ vertices[head.triangles[triangle]]
    places["head_top"] = places["crown"]
    middle = vertices[head.triangles].mean(axis=1)
    front = grows & (middle[:, 2] > -75.0) & (middle[:, 1] > 15.0)
    for n, aside in enumerate(_HAIRLINE_ASIDE_MM, 1):
        for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
            near = front & (np.abs(middle[:, 0] - sign * aside) < 5.0)
            where = middle[near]
            places[f"hairline_{n}_{side}"] = (
                where[np.argmin(where[:, 1])]
                if len(where)
                else places["hairline"] + [sign * aside, -0.004 * aside**2, -0.008 * aside**2]
            )
    return np.array([places[name] for name in NAMES], dtype=np.float32)
