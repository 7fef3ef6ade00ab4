"""Exposure in words for the photographer: one line to set, and what the light can't give."""

import math

from sitwell.base.units import plain_number, ratio_from_stops, stops_words
from sitwell.brief.kit import LightSource
from sitwell.scene.background import NEAR_ENOUGH_STOPS, own_light_power, spill_stops
from sitwell.scene.exposure import LEAST_POWER, ROOM_SHOWS_STOPS, Exposure
from sitwell.scene.setup import Setup
from sitwell.sheet.sentences import mark, say
from sitwell.sheet.settings import Setting

EXPOSURE = mark("Exposure")
SETTINGS = mark("f/{f_number}, ISO {iso}, {shutter}")
BY_FLASH = mark("f/{f_number}, ISO {iso}, {shutter}: the flash at {power}")
FULL_POWER = mark("full power")
ABOUT_POWER = mark("about {power} power")
FLASH_SHORT = mark(
    "The flash lacks {stops}: bring it nearer, take cloth off it, or open the aperture; an open "
    "aperture blurs more."
)
FLASH_OVER = mark(
    "The flash is {stops} too strong at its least: move it off, put cloth before it, or a grey "
    "filter on the lens."
)
LAMP_SHORT = mark(
    "The light lacks {stops} for a picture by hand: a tripod and a sitter who holds still, a "
    "brighter light, or a wider aperture."
)
LAMP_OVER = mark("The light is {stops} too strong: a grey filter on the lens, or shade.")
ROOM_SHOWS = mark("The room's light is only {stops} under the flash and shows: darken the room.")
METER = mark("From the light's stated power: meter it before the sitter comes.")
METER_DAYLIGHT = {
    "sun": mark("For a clear sky: meter the light on the face; thin cloud takes about a stop."),
    "shade": mark("For a clear sky: meter the light on the face, again whenever the sky changes."),
    "window": mark("Meter the light on the face, again whenever the sky changes."),
}
BACKGROUND_LIGHT = mark("Background light")
SPILL = mark("the key's spill")
SPILL_IS_RIGHT = mark("it gives the planned tone")
SPILL_TOO_BRIGHT = mark(
    "it leaves the background {stops} brighter than planned: hang it farther back, or flag the key"
)
OWN_LIGHT = mark("a light of its own")
SPILL_TOO_DARK = mark("the key's spill leaves it {stops} darker than planned")
OWN_POWER = mark("a light of its own at {power}")
OWN_TOO_STRONG = mark(
    "a light of its own, {stops} too strong at its least: move it off, or put cloth before it"
)
OWN_LACKS = mark("a light of its own, which lacks {stops}: bring it nearer")
TIMES = (
    *(1 / n for n in (8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000, 800, 640, 500)),
    *(1 / n for n in (400, 320, 250, 200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10)),
    *(1 / n for n in (8, 6, 5, 4, 3, 2)),
    *(1.0, 2.0, 4.0, 8.0, 15.0, 30.0),
)


def exposure_setting(exposure: Exposure, light: str = "") -> Setting:
    """The line of the settings: what to set, and what stands against it; ``light`` is its kind."""
    notes = lacks(exposure)
    if light in METER_DAYLIGHT:
        notes.append(say(METER_DAYLIGHT[light]))
    return Setting(name=say(EXPOSURE), value=exposure_words(exposure), note=" ".join(notes))


def exposure_words(exposure: Exposure) -> str:
    """ "f/4, ISO 200, 1/160 s: the flash at about 1/8 power"."""
    gaps = {
        "f_number": plain_number(exposure.f_number),
        "iso": plain_number(exposure.iso, 0),
        "shutter": shutter_words(exposure.shutter_s),
    }
    if exposure.power is None:
        return say(SETTINGS, **gaps)
    return say(BY_FLASH, **gaps, power=power_words(exposure.power))


def shutter_words(shutter_s: float) -> str:
    """The nearest time that a camera can be set to: 1/160 s, 2 s."""
    nearest = min(TIMES, key=lambda time: max(time / shutter_s, shutter_s / time))
    return f"{nearest:g} s" if nearest >= 1.0 else f"1/{round(1.0 / nearest)} s"


def power_words(power: float) -> str:
    """A flash's power to the nearest whole stop: "about 1/8 power"."""
    stops_down = max(round(-math.log2(power)), 0)
    return say(ABOUT_POWER, power=f"1/{2**stops_down}") if stops_down else say(FULL_POWER)


def lacks(exposure: Exposure) -> list[str]:
    """What the light can't give and what to do; for a flash that can, the call to meter it."""
    flash = exposure.power is not None
    notes = []
    if exposure.short_stops > NEAR_ENOUGH_STOPS:
        text = FLASH_SHORT if flash else LAMP_SHORT
        notes.append(say(text, stops=stops_words(exposure.short_stops)))
    if exposure.over_stops > NEAR_ENOUGH_STOPS:
        text = FLASH_OVER if flash else LAMP_OVER
        notes.append(say(text, stops=stops_words(exposure.over_stops)))
    if exposure.room_stops is not None and exposure.room_stops < ROOM_SHOWS_STOPS:
        notes.append(say(ROOM_SHOWS, stops=stops_words(max(exposure.room_stops, 0.0))))
    return notes or ([say(METER)] if flash else [])


def background_setting(
    setup: Setup,
    *,
    tone_stops: float = 0.0,
    own: LightSource | None = None,
    own_distance_mm: float = 1000.0,
    iso: float = 100.0,
) -> Setting:
    """What lights the background to its planned tone: the key's spill or a light of its own.

    ``tone_stops`` is how much lighter its material is than skin; ``own`` a flash that could light
    it from ``own_distance_mm``.
    """
    missing = setup.background_stops - spill_stops(setup, tone_stops)
    name = say(BACKGROUND_LIGHT)
    if abs(missing) <= NEAR_ENOUGH_STOPS:
        return Setting(name=name, value=say(SPILL), note=say(SPILL_IS_RIGHT))
    if missing < 0:
        note = say(SPILL_TOO_BRIGHT, stops=stops_words(-missing))
        return Setting(name=name, value=say(SPILL), note=note)
    power = own and own_light_power(setup, own, own_distance_mm, iso, tone_stops)
    value = say(OWN_LIGHT)
    if power and power > 1.0:
        value = say(OWN_LACKS, stops=stops_words(math.log2(power)))
    elif power and power < LEAST_POWER / ratio_from_stops(NEAR_ENOUGH_STOPS):
        value = say(OWN_TOO_STRONG, stops=stops_words(math.log2(LEAST_POWER / power)))
    elif power:
        value = say(OWN_POWER, power=power_words(power))
    note = say(SPILL_TOO_DARK, stops=stops_words(missing)) if math.isfinite(missing) else ""
    return Setting(name=name, value=value, note=note)
