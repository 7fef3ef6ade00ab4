"""The power of the lamps in words: what key, rim and background light are set to."""

import math

from sitwell.base.units import feet_from_mm, plain_number, stops_words
from sitwell.brief.kit import Kit, LightSource
from sitwell.scene.background import NEAR_ENOUGH_STOPS
from sitwell.scene.exposure import LEAST_POWER, LOWEST_ISO, expose
from sitwell.scene.flash import needed_guide_number_m, share_of_power
from sitwell.scene.setup import Setup
from sitwell.sheet.exposure import background_setting, exposure_setting, power_words
from sitwell.sheet.sentences import mark, say
from sitwell.sheet.settings import Setting

RIM_POWER = mark("Rim, power")
FLASH_AT = mark("the flash at {power}, ISO {iso}")
LACKS = mark("full power, which lacks {stops}: bring it nearer, or raise the ISO for all lights")
TOO_STRONG = mark("{stops} too strong at its least: move it off, or put cloth before it")
GUIDE_NUMBER = mark("a flash of guide number {number} in metres ({feet} in feet), or more")
AT_ISO = mark("counted at ISO 100, behind its cloth or grid; f/{f_number} at ISO {iso}")
BY_METER = mark("set by its dimmer or its distance, by meter")
LEAST_WHOLE = 3.0  # a smaller guide number is told with a digit


def power_settings(setup: Setup, key: LightSource, kit: Kit) -> tuple[Setting, ...]:
    """The exposure where the kit tells the key's power, the rim's power, the background's light."""
    exposure = expose(setup, key, kit.cameras[0])
    told: tuple[Setting, ...] = ()
    if exposure:
        told += (exposure_setting(exposure, key.kind()),)
    iso = exposure.iso if exposure else LOWEST_ISO
    rim = kit.light_for("rim", key) if setup.rim == "on" else None
    if setup.rim == "on":
        told += (rim_power_setting(setup, rim, iso),)
    lit = setup.background_light == "on"
    if key.stays() and not lit:  # the background is looked for, not lit
        return told
    own = kit.light_for("background", key, rim) if lit else None
    off_mm = setup.background_light_distance_mm
    return (*told, background_setting(setup, own=own, own_distance_mm=off_mm, iso=iso))


def rim_power_setting(setup: Setup, lamp: LightSource | None, iso: float = 100.0) -> Setting:
    """The line of the settings for the power of a rim light that is on.

    ``iso`` is what the key is exposed at; ``lamp`` is the kit's, None where the kit is not known.
    """
    name = say(RIM_POWER)
    if lamp is not None and not lamp.is_flash():
        return Setting(name=name, value=say(BY_METER))
    light = (setup.f_number, setup.rim_distance_mm)
    power = None if lamp is None else share_of_power(lamp, *light, setup.rim_stops, iso)
    if power is None:
        number = needed_guide_number_m(*light, setup.rim_size_mm, setup.rim_stops, iso)
        digits = 1 if number < LEAST_WHOLE else 0
        return Setting(
            name=name,
            value=say(
                GUIDE_NUMBER,
                number=plain_number(number, digits),
                feet=plain_number(feet_from_mm(1000.0 * number), digits),
            ),
            note=say(AT_ISO, f_number=plain_number(setup.f_number), iso=plain_number(iso, 0)),
        )
    return Setting(name=name, value=_power(power, iso))


def _power(power: float, iso: float) -> str:
    short, over = math.log2(power), math.log2(LEAST_POWER / power)
    if short > NEAR_ENOUGH_STOPS:
        return say(LACKS, stops=stops_words(short))
    if over > NEAR_ENOUGH_STOPS:
        return say(TOO_STRONG, stops=stops_words(over))
    told = min(max(power, LEAST_POWER), 1.0)
    return say(FLASH_AT, power=power_words(told), iso=plain_number(iso, 0))
