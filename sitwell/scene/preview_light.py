"""The lights of a preview, as lamps to draw with: those of the set-up, or a plain one."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.units import ratio_from_stops
from sitwell.scene.background import background_luminance
from sitwell.scene.key_maps import light_disc
from sitwell.scene.light import key_and_fill
from sitwell.scene.lighting import key_place_mm, rim_points_mm
from sitwell.scene.setup import Setup
from sitwell.scene.skin_tone import lightness_mean

Floats = NDArray[np.float64]

KEY_POINTS, RIM_POINTS = 16, 8
MOST_EXPOSURE = 2.0  # of skin square to key and fill, against the sitter's tone: one stop
BACKGROUND_TINT = (0.98, 1.0, 1.03)


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Small lamps at points (N, 3), each so strong over its squared distance; fill, background.

    The key's ``KEY_POINTS`` come first.
    """

    points_mm: Floats
    strengths: Floats
    fill_share: float
    background: Floats


def studio_light(setup: Setup, grey: float) -> Light:
    """The set-up's own lights, over skin whose luminance is ``grey`` where it faces them."""
    key, fill = key_and_fill(setup.fill_ratio)
    grey *= background_luminance(setup.background_stops)
    points = light_disc(key_place_mm(setup), 0.5 * setup.key_size_mm, KEY_POINTS)
    strengths = np.full(KEY_POINTS, key * setup.key_distance_mm**2 / KEY_POINTS)
    if setup.rim == "on":
        middle = rim_points_mm(setup).mean(axis=0)
        strength = ratio_from_stops(setup.rim_stops) * setup.rim_distance_mm**2 / RIM_POINTS
        rim = light_disc(middle, 0.5 * setup.rim_size_mm, RIM_POINTS)
        points = np.concatenate([points, rim])
        strengths = np.concatenate([strengths, np.full(RIM_POINTS, strength)])
    return Light(
        points_mm=points,
        strengths=strengths,
        fill_share=fill,
        background=grey * np.array(BACKGROUND_TINT),
    )


def exposure(light: Floats, weight: Floats) -> float:
    """What keeps the sitter's tone under ``light`` (N,) on the middle of the face.

    ``weight`` (N,) is how much of each place is in view. Light only moves between the parts of the
    face; but a face that is nearly all in shade stays darker, or its lit rim would burn out.
    """
    if weight.sum() <= 0.0:
        return 1.0
    return min(1.0 / max(float(lightness_mean(light, weight)), 1e-9), MOST_EXPOSURE)


def plain_light(lens: Floats) -> Light:
    """One lamp above the lens, and much fill before a light background."""
    return Light(
        points_mm=lens[None, :] + np.array([[0.0, 300.0, 0.0]]),
        strengths=np.array([0.45 * float(lens @ lens)]),
        fill_share=0.55,
        background=np.full(3, 0.72),
    )
