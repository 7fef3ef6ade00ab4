"""The background as a plain tone, in stops against a lit cheek (0 = as bright), and its light."""

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import direction_from_angles
from sitwell.base.units import ratio_from_stops, stops_from_ratio
from sitwell.brief.kit import LightSource
from sitwell.scene.flash import full_power_f_number
from sitwell.scene.light import key_and_fill
from sitwell.scene.setup import Setup

Floats = NDArray[np.float64]

NEAR_ENOUGH_STOPS = 0.35  # a third of a stop is the finest that lamps and meters are set to


def background_luminance(background_stops: float) -> float:
    """Luminance relative to a fully lit cheek."""
    return ratio_from_stops(background_stops)


def spill_stops(setup: Setup, tone_stops: float = 0.0) -> float:
    """Where the key's spill alone leaves the background behind the sitter, from its true place.

    Against a lit cheek, fill left out. The key is small and matte and faces the sitter; a key
    beside the sitter shines less on what is behind than one in front. -inf for a key that does not
    reach it. ``tone_stops`` is how much lighter the material is than skin.
    """
    spill = float(_spill(setup, np.array([0.0, 0.0, -setup.background_distance_mm])))
    return tone_stops + stops_from_ratio(spill) if spill > 0.0 else -np.inf


def _spill(setup: Setup, places_mm: Floats) -> Floats:
    """The key's spill (...) on the background at its places (..., 3), against a lit cheek."""
    key = setup.key_distance_mm * direction_from_angles(
        setup.key_azimuth_deg, setup.key_elevation_deg
    )
    away = places_mm - key
    length = np.linalg.norm(away, axis=-1)
    shines = np.maximum(away @ -key / (length * setup.key_distance_mm), 0.0)
    meets = np.maximum(-away[..., 2] / length, 0.0)
    full = key_and_fill(setup.fill_ratio)[0]
    return np.asarray(full * shines * meets * (setup.key_distance_mm / length) ** 2)


def falls_off(setup: Setup, places_mm: Floats) -> Floats:
    """How bright the background is at its places (..., 3) against its tone behind the sitter.

    What the key's spill lacks of that tone a lamp square before it gives, where there is one,
    falling off with the fourth power of the cosine; else light that is even.
    """
    behind = np.array([0.0, 0.0, -setup.background_distance_mm])
    planned, spill = background_luminance(setup.background_stops), float(_spill(setup, behind))
    of_key = min(spill / planned, 1.0)
    rest = np.ones(places_mm.shape[:-1])
    if setup.background_light == "on":
        off_mm2 = ((places_mm - behind) ** 2).sum(axis=-1)
        rest = (1.0 + off_mm2 / setup.background_light_distance_mm**2) ** -2.0
    keyed = _spill(setup, places_mm) / spill if spill > 0.0 else 0.0
    return np.asarray(of_key * keyed + (1.0 - of_key) * rest)


def own_light_stops(setup: Setup, tone_stops: float = 0.0) -> float:
    """What a lamp alone must give the background, in stops against a lit cheek; -inf for nothing.

    The planned tone is the sum of it and of the key's spill, which counts as in ``spill_stops``.
    """
    planned, spill = (
        ratio_from_stops(stops)
        for stops in (setup.background_stops, spill_stops(setup, tone_stops))
    )
    return stops_from_ratio(planned - spill) if planned > spill else -np.inf


def own_light_power(
    setup: Setup,
    light: LightSource,
    light_distance_mm: float,
    iso: float = 100.0,
    tone_stops: float = 0.0,
) -> float | None:
    """Share of its full power at which a flash of its own gives the background its planned tone.

    ``light_distance_mm`` is from the flash to the background, square on; above 1 it can't, 0 where
    the key's spill is enough. None when the flash's power is not known.
    """
    full = full_power_f_number(light, light_distance_mm, iso)
    if full is None:
        return None
    needed = ratio_from_stops(own_light_stops(setup, tone_stops) - tone_stops)
    return needed * (setup.f_number / full) ** 2
