"""Exposure for a set-up: ISO, shutter and flash power for its aperture, and what the light lacks.

The aperture is the plan's, since it makes the blur. What is exposed for is the lit cheek, key and
fill together.
"""

import math
from dataclasses import dataclass

from sitwell.brief.kit import Camera, LightSource
from sitwell.scene.daylight_level import sun_exposure_value
from sitwell.scene.flash import full_power_f_number, steady_exposure_value
from sitwell.scene.light import exposure_value, key_and_fill
from sitwell.scene.setup import Setup

LOWEST_ISO = 100.0
EASY_POWER = 0.5  # above it a flash is slow to come back: rather twice the ISO (design choice)
LEAST_POWER = 1.0 / 128.0  # of a common flash (common practice, no source)
STILL_S = 1.0 / 125.0  # a sitter who holds still, not longer (common practice, no source)
FASTEST_S = 1.0 / 4000.0
LEAST_KEY_SHARE = 0.2  # below it the fill is the key, and this page is of no use
ROOM_SHOWS_STOPS = 4.0  # room light nearer to the flash than this leaves a trace (design choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """What to set; ``power`` is a flash's share of its full power, None for a light that burns.

    ``short_stops`` is what the light lacks at the camera's highest ISO, ``over_stops`` what it
    has too much at the lowest; both 0 when the exposure is right. ``by_hand_s`` is the longest
    time by hand, and ``room_stops`` how far the room's light stays under the flash where known.
    """

    f_number: float
    iso: float
    shutter_s: float
    power: float | None
    short_stops: float
    over_stops: float
    by_hand_s: float
    room_stops: float | None = None


def expose(
    setup: Setup, light: LightSource, camera: Camera, *, room_exposure_value: float | None = None
) -> Exposure | None:
    """Settings for a set-up by a light; None when nothing is said about the light's power.

    ``room_exposure_value`` is what is metered at the sitter at ISO 100 without the flash.
    """
    share = max(key_and_fill(setup.fill_ratio)[0], LEAST_KEY_SHARE)
    if light.is_flash():
        full = full_power_f_number(light, setup.key_distance_mm, LOWEST_ISO)
        if full is None:
            return None
        power = share * (setup.f_number / full) ** 2
        return _by_flash(setup, light, camera, power, room_exposure_value)
    metered = _metered(setup, light)
    if metered is None:
        return None
    if light.lux_at_1m is not None:  # lux count the key alone, a metered value all there is
        metered -= math.log2(share)
    return _by_steady_light(setup, camera, metered)


def _metered(setup: Setup, light: LightSource) -> float | None:
    """What a meter reads at the sitter; under a sun that nobody has metered, by its height."""
    if light.daylight == "sun" and light.exposure_value is None:
        return sun_exposure_value(setup.key_elevation_deg)
    return steady_exposure_value(light, setup.key_distance_mm)


def _by_flash(
    setup: Setup,
    light: LightSource,
    camera: Camera,
    power: float,
    room_exposure_value: float | None,
) -> Exposure:
    """``power`` is what the lowest ISO asks for."""
    isos = _isos(camera)
    iso = next((iso for iso in isos if power * LOWEST_ISO / iso <= EASY_POWER), isos[-1])
    power *= LOWEST_ISO / iso
    room = None
    if room_exposure_value is not None:
        room = exposure_value(setup.f_number, light.sync_speed_s) - math.log2(iso / LOWEST_ISO)
        room -= room_exposure_value
    return Exposure(
        f_number=setup.f_number,
        iso=iso,
        shutter_s=light.sync_speed_s,
        power=min(max(power, LEAST_POWER), 1.0),
        short_stops=max(math.log2(power), 0.0),
        over_stops=max(math.log2(LEAST_POWER / power), 0.0),
        by_hand_s=STILL_S,
        room_stops=room,
    )


def _by_steady_light(setup: Setup, camera: Camera, metered: float) -> Exposure:
    isos = _isos(camera)
    by_hand_s = min(STILL_S, 1.0 / camera.equivalent_mm(setup.focal_mm))
    longest = setup.f_number**2 / 2.0**metered  # at the lowest ISO
    iso = next((iso for iso in isos if longest * LOWEST_ISO / iso <= by_hand_s), isos[-1])
    shutter_s = longest * LOWEST_ISO / iso
    return Exposure(
        f_number=setup.f_number,
        iso=iso,
        shutter_s=max(shutter_s, FASTEST_S),
        power=None,
        short_stops=max(math.log2(shutter_s / by_hand_s), 0.0),
        over_stops=max(math.log2(FASTEST_S / shutter_s), 0.0),
        by_hand_s=by_hand_s,
    )


def _isos(camera: Camera) -> list[float]:
    """Whole stops from the lowest ISO to the highest that the camera's owner accepts."""
    stops = max(int(math.log2(camera.highest_iso / LOWEST_ISO) + 1e-9), 0)
    return [LOWEST_ISO * 2**stop for stop in range(stops + 1)]
