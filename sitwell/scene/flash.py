"""How bright a light of a known power is at the sitter: guide numbers, watt-seconds, lux.

A source with a large face falls off less near by: square to its middle, as 1 / (d^2 + a^2) for a
matte disc of radius a (exact), which a small source reaches as 1 / d^2.
"""

import math

from sitwell.base.units import ratio_from_stops
from sitwell.brief.kit import LightSource
from sitwell.scene.light import flash_f_number

CALIBRATION = 250.0  # of an incident meter, C in N^2 = E t S / C (common practice, no source)
LUMENS_PER_WATT = 40.0  # xenon flash tube with its losses (common practice, no source)


def guide_number_m(light: LightSource) -> float | None:
    """Guide number in metres at ISO 100 and full power behind the modifier; None if not known.

    From watt-seconds by way of the light: so many lumen-seconds through a matte face make that
    over pi candela-seconds on its axis, and N^2 = H S / C. Good to about a stop: meter it.
    """
    if light.guide_number_m_iso100 is not None:
        bare = light.guide_number_m_iso100
    elif light.watt_seconds is not None:
        candela_seconds = light.watt_seconds * LUMENS_PER_WATT / math.pi
        bare = math.sqrt(candela_seconds * 100.0 / CALIBRATION)
    else:
        return None
    return bare * math.sqrt(ratio_from_stops(-light.modifier_loss_stops))


def full_power_f_number(light: LightSource, distance_mm: float, iso: float = 100.0) -> float | None:
    """Aperture for skin square to the flash at full power, ``distance_mm`` from its face."""
    guide_number = guide_number_m(light)
    if guide_number is None:
        return None
    return flash_f_number(guide_number, _as_if_small_mm(light, distance_mm) / 1000.0, iso)


def share_of_power(
    light: LightSource, f_number: float, distance_mm: float, stops: float, iso: float = 100.0
) -> float | None:
    """Share of a flash's full power that gives skin square to it ``stops`` against exposed right.

    ``distance_mm`` is from its face; above 1 it can't. None when its power is not known.
    """
    full = full_power_f_number(light, distance_mm, iso)
    return None if full is None else ratio_from_stops(stops) * (f_number / full) ** 2


def needed_guide_number_m(
    f_number: float, distance_mm: float, size_mm: float, stops: float, iso: float = 100.0
) -> float:
    """Guide number in metres at ISO 100, behind its modifier, that ``share_of_power`` asks of 1."""
    as_if_small_m = math.hypot(distance_mm, 0.5 * size_mm) / 1000.0
    return f_number * as_if_small_m * math.sqrt(ratio_from_stops(stops) * 100.0 / iso)


def steady_exposure_value(light: LightSource, distance_mm: float) -> float | None:
    """What a meter reads at the sitter at ISO 100, for a light that burns; None for a flash.

    EV = log2(100 E / C) of the incident light E.
    """
    if light.exposure_value is not None:
        return light.exposure_value
    if light.lux_at_1m is None:
        return None
    nearer = _as_if_small_mm(light, 1000.0) / _as_if_small_mm(light, distance_mm)
    lux = light.lux_at_1m * nearer**2 * ratio_from_stops(-light.modifier_loss_stops)
    return math.log2(lux * 100.0 / CALIBRATION)


def _as_if_small_mm(light: LightSource, distance_mm: float) -> float:
    return math.hypot(distance_mm, 0.5 * light.size_mm)
