"""How bright daylight is on a face: sun, sky and ground under a clear sky; what a place fills.

Formulas of the Illuminating Engineering Society's recommended practice for the calculation of
daylight availability (J. Illum. Eng. Soc. 13(4):381-392, 1984, doi 10.1080/00994480.1984.10748791),
as read in a public implementation of it, not in the paper. They give means of clear days: at a
moment there may be half or twice as much, so that what follows is to be metered. The earth's
distance from the sun (3 %) is left out.
"""

import math
from dataclasses import replace

from sitwell.base.units import stops_from_ratio
from sitwell.brief.kit import Kit
from sitwell.brief.place_light import SHADE_RATIO, Daylight
from sitwell.brief.room import Room, daylight_of
from sitwell.scene.flash import CALIBRATION
from sitwell.scene.setup import Setup
from sitwell.scene.window import room_ratio

SUN_ABOVE_AIR_LUX = 127_500.0
EXTINCTION = 0.21  # a clear sky, for one air mass
GRASS = 0.2  # share of light that ground returns (common practice, no source)
ASIDE_DEG = 90.0  # the shade side of a face looks about this far from the sun's bearing


def sun_lux(elevation_deg: float) -> float:
    """The sun's light on a surface square to it, without sky; 0 for a sun that has set."""
    if elevation_deg <= 0.0:
        return 0.0
    air_mass = 1.0 / math.sin(math.radians(elevation_deg))
    return SUN_ABOVE_AIR_LUX * math.exp(-EXTINCTION * air_mass)


def sky_lux(elevation_deg: float) -> float:
    """Light of the whole clear sky, without sun, on level ground."""
    return 16_400.0 * math.sqrt(_sine(elevation_deg))


def upright_sky_lux(elevation_deg: float, from_sun_deg: float) -> float:
    """Light of the half sky before an upright surface that faces so far from the sun's bearing."""
    height, sine = math.radians(max(elevation_deg, 0.0)), _sine(elevation_deg)
    toward = 4_000.0 * height**1.3 + 12_000.0 * sine**0.3 * math.cos(height) ** 1.3
    turned = math.cos(math.radians(from_sun_deg))
    return toward * (2.0 + turned) / (3.0 - turned)


def fill_lux(elevation_deg: float, ground: float = GRASS) -> float:
    """What sky and sunlit ground give to the side of a face that the sun doesn't reach.

    ``ground`` is the share of light that the ground returns; half of what an upright surface sees
    is ground.
    """
    on_ground = sun_lux(elevation_deg) * _sine(elevation_deg) + sky_lux(elevation_deg)
    return upright_sky_lux(elevation_deg, ASIDE_DEG) + 0.5 * ground * on_ground


def sun_ratio(elevation_deg: float, ground: float = GRASS) -> float:
    """Lighting ratio (additive) on a face in the sun that nothing but sky and ground fills."""
    fill = fill_lux(elevation_deg, ground)
    return (sun_lux(elevation_deg) + fill) / fill


def sun_exposure_value(elevation_deg: float, ground: float = GRASS) -> float:
    """Exposure value at ISO 100 for the cheek in the sun, from its incident light; -inf by night.

    EV = log2(100 E / C), sun, sky and ground together.
    """
    lux = sun_lux(elevation_deg) + fill_lux(elevation_deg, ground)
    return stops_from_ratio(100.0 * lux / CALIBRATION) if lux > 0.0 else -math.inf


def own_light(kit: Kit, room: Room, setup: Setup) -> Daylight | None:
    """The light that stays where it is the set-up's key, with what its place fills by itself."""
    own = daylight_of(kit, room, setup.key_size_mm)
    if own is None or own.unfilled_ratio is not None:
        return own
    by_kind = {
        "sun": lambda: sun_ratio(setup.key_elevation_deg),
        "window": lambda: room_ratio(own.light.size_mm, setup, room),
        "shade": lambda: SHADE_RATIO,
    }
    return replace(own, unfilled_ratio=by_kind[own.light.kind()]())


def _sine(elevation_deg: float) -> float:
    return math.sin(math.radians(max(elevation_deg, 0.0)))
