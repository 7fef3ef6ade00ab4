"""Measures of the light: on features, of the nose's shadow, catchlights, texture."""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.head.regions import EYE, FACE, Region
from sitwell.head.surface import SIDES
from sitwell.scene.background import background_luminance
from sitwell.scene.definitions import SHARE_OF_HEIGHT, Measure, both_sides
from sitwell.scene.lighting import Lit, hardness, key_points_mm
from sitwell.scene.rays import first_hit
from sitwell.scene.view import Floats, View

_STOPS = "Mean luminance of {} against the face's, as seen."
MEASURES = (
    Measure("light_forehead_stops", "stops", _STOPS.format("the forehead")),
    Measure("light_nose_ridge_stops", "stops", _STOPS.format("the ridge of the nose")),
    *both_sides("light_nose_side_{}_stops", "stops", _STOPS.format("the nose's {} side")),
    *both_sides("light_cheek_{}_stops", "stops", _STOPS.format("the {} cheek")),
    *both_sides("light_ear_{}_stops", "stops", _STOPS.format("the {} ear")),
    Measure("light_under_chin_stops", "stops", _STOPS.format("the area under the jaw")),
    *both_sides("light_eye_{}_stops", "stops", _STOPS.format("the {} eye's opening")),
    Measure("light_chin_stops", "stops", _STOPS.format("the chin")),
    Measure(
        "nose_contrast_stops", "stops", "Lit against shade side of the nose, both as seen, >= 0."
    ),
    *both_sides(
        "ear_contrast_{}",
        "stops",
        "The {} ear's luminance against the background's where it stands out of the head's "
        "outline; 0 where it does not.",
    ),
    Measure(
        "nose_shadow_angle_deg",
        "deg",
        "Which way the nose's shadow falls, seen square on the face: 0 straight down, + to the own "
        "left.",
    ),
    Measure(
        "nose_shadow_length",
        SHARE_OF_HEIGHT,
        "From the nose's tip to where its shadow ends that way, seen square on the face, at most "
        "1.",
    ),
    Measure("lit_side", "-1 to 1", "Which cheek the key lights: -1 own right only, +1 own left."),
    Measure(
        "broadness", "-1 to 1", "+1 the side nearer the camera is the lit one (broad), -1 short."
    ),
    *both_sides("catchlight_{}", "0 or 1", "The key's reflection shows in the {} eye's opening."),
    *both_sides(
        "catchlight_clock_{}",
        "hours",
        "Where the key's reflection sits round the {} iris in the picture, as on a clock.",
    ),
    Measure(
        "skin_relief",
        "ratio",
        "How much the key's slant and hardness model texture on the skin it reaches, 0 = none.",
    ),
)

# The cornea's front bends with 7.80 mm in the average eye (a table of optical constants,
# ed.mdict.net/k733633.html, read in 2026; 7.7 mm in Gullstrand's schematic eye, from memory). Set
# so far ahead, it meets an eyeball of 12 mm where an iris 11.7 mm wide ends, and it ends there.
CORNEA_RADIUS_MM, CORNEA_AHEAD_MM = 7.8, 5.3
CORNEA_EDGE_COSINE = math.sqrt(1.0 - (5.85 / CORNEA_RADIUS_MM) ** 2)
CATCHLIGHT_SHARE = 0.2  # of the key's image; less of it is a glint that no one sees as the light
EAR_OUT_FULL = 0.02  # standing out by this many face heights counts the background wholly
BROAD_TURN_DEG = 10.0  # turn at which the sides' difference is three quarters told
_FACE = np.array(sorted(FACE), dtype=np.int64)
_SKIN = np.array(
    [
        Region.FOREHEAD,
        Region.TEMPLE_OWN_LEFT,
        Region.TEMPLE_OWN_RIGHT,
        Region.CHEEK_OWN_LEFT,
        Region.CHEEK_OWN_RIGHT,
        Region.CHIN,
        Region.JAW_OWN_LEFT,
        Region.JAW_OWN_RIGHT,
    ],
    dtype=np.int64,
)


def light_measures(view: View, lit: Lit, ear_out: tuple[float, float]) -> tuple[float, ...]:
    """Values in the order of MEASURES; ``ear_out`` is how far each ear stands out."""
    face = _mean(lit.luminance, lit.weight, _FACE)
    nose_sides = _log2(lit.luminance[Region.NOSE_SIDE_OWN_LEFT]) - _log2(
        lit.luminance[Region.NOSE_SIDE_OWN_RIGHT]
    )
    lit_side = _lit_side(lit)
    left_catch, right_catch = (_catchlight(view, eye) for eye in range(2))
    return (
        *(_log2(value / face) for value in _features(lit)),
        abs(nose_sides),
        _ear_contrast(view, lit, Region.EAR_OWN_LEFT, ear_out[0]),
        _ear_contrast(view, lit, Region.EAR_OWN_RIGHT, ear_out[1]),
        *lit.nose_shadow,
        lit_side,
        -lit_side * math.tanh(view.seen_turn_deg / BROAD_TURN_DEG),
        left_catch[0],
        right_catch[0],
        left_catch[1],
        right_catch[1],
        hardness(view.setup) * _mean(lit.relief, lit.reached, _SKIN),
    )


def _mean(values: Floats, weights: Floats, regions: NDArray[np.int64]) -> float:
    total = float(weights[regions].sum())
    return float(values[regions] @ weights[regions]) / total if total > 0.0 else 0.0


def _log2(value: float) -> float:
    return math.log2(max(value, 1e-6))


def _features(lit: Lit) -> list[float]:
    single = (
        Region.FOREHEAD,
        Region.NOSE_RIDGE,
        Region.NOSE_SIDE_OWN_LEFT,
        Region.NOSE_SIDE_OWN_RIGHT,
        Region.CHEEK_OWN_LEFT,
        Region.CHEEK_OWN_RIGHT,
        Region.EAR_OWN_LEFT,
        Region.EAR_OWN_RIGHT,
        Region.UNDER_JAW,
    )
    eyes = [
        _together(lit, Region[f"WHITE_{side.upper()}"], Region[f"IRIS_{side.upper()}"])
        for side in SIDES
    ]
    return [*(float(lit.luminance[r]) for r in single), *eyes, float(lit.luminance[Region.CHIN])]


def _together(lit: Lit, first: Region, second: Region) -> float:
    a, b = float(lit.weight[first]), float(lit.weight[second])
    return (a * float(lit.luminance[first]) + b * float(lit.luminance[second])) / max(a + b, 1e-300)


def _ear_contrast(view: View, lit: Lit, ear: Region, out: float) -> float:
    step = _log2(float(lit.luminance[ear])) - _log2(
        background_luminance(view.setup.background_stops)
    )
    share = min(out / EAR_OUT_FULL, 1.0)
    return step * share * share * (3.0 - 2.0 * share)


def _lit_side(lit: Lit) -> float:
    left, right = float(lit.key[Region.CHEEK_OWN_LEFT]), float(lit.key[Region.CHEEK_OWN_RIGHT])
    return (left - right) / (left + right) if left + right > 1e-9 else 0.0


def _catchlight(view: View, eye: int) -> tuple[float, float]:
    """1.0 if enough of the key's image on the cornea is seen in the opening, and its clock hour.

    The image is that of the key's five points: a large key is seen although a lid cuts it.
    """
    key, lens = key_points_mm(view.setup), view.camera.lens_mm
    centre = view.studio_from_head(view.anatomy.eyes[eye].centre_mm)
    iris = view.point_mm(f"iris_{SIDES[eye]}")
    gaze = _unit(iris - centre)
    cornea = centre + CORNEA_AHEAD_MM * gaze
    half = _unit(_unit(key - cornea) + _unit(lens - cornea))
    mirrors = cornea + CORNEA_RADIUS_MM * half
    us, vs = view.place(np.concatenate([mirrors, iris[None]]))
    seen = half @ gaze > CORNEA_EDGE_COSINE
    for n in np.flatnonzero(seen):
        seen[n] = _mirrors_in_opening(view, eye, float(us[n]), float(vs[n]), mirrors[n], key[n])
    there = seen if seen.any() else np.ones(len(key), dtype=bool)
    across, up = us[:-1][there].mean() - us[-1], vs[:-1][there].mean() - vs[-1]
    return float(seen.mean() >= CATCHLIGHT_SHARE), _clock(view, float(across), float(up))


def _mirrors_in_opening(
    view: View, eye: int, u: float, v: float, mirror_mm: Floats, source_mm: Floats
) -> bool:
    """Whether a point of the cornea is seen between the lids and sees a point of the key."""
    anatomy = view.anatomy
    triangle = view.eye_windows[eye].triangle_at(u, v)
    if triangle < 0 or Region(anatomy.region[triangle]) not in EYE:
        return False
    start, source = view.head_from_studio(np.stack([mirror_mm, source_mm]))
    blocked = first_hit(
        start,
        _unit(source - start),
        view.local_mm,
        anatomy.triangles,
        anatomy.eye_shaders[eye],
        2.0,
    )
    return math.isinf(blocked)


def _clock(view: View, across: float, up: float) -> float:
    up_x, up_y = view.frame.up
    camera_right, camera_up = across * up_y + up * up_x, up * up_y - across * up_x
    hour = math.degrees(math.atan2(camera_right, camera_up)) / 30.0 % 12.0
    return hour if hour > 0.0 else 12.0


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.sqrt((vectors * vectors).sum(axis=-1, keepdims=True)))
