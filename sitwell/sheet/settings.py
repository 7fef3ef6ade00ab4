"""Camera, light, background and crop in words for the photographer and the assistant."""

import math
from dataclasses import dataclass

from sitwell.base.units import distance_words, length_words, plain_number
from sitwell.scene.light import stops_between
from sitwell.scene.setup import Setup
from sitwell.sheet import sentences as s
from sitwell.sheet.sentences import say
from sitwell.sheet.words import camera_side

# Closer than this to the middle, a stand or a tripod can't be told apart from the middle.
LEVEL_MM = 10.0
STRAIGHT_DEG = 2.5
EQUAL_STOPS = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One line of the settings: its name, the value to set, and a note that explains it."""

    name: str
    value: str
    note: str = ""


def studio_words(setup: Setup) -> tuple[Setting, ...]:
    """What the photographer and the assistant set, in the order in which a set is built."""
    return (
        _lens(setup),
        _setting(s.DISTANCE, distance_words(setup.distance_mm), s.TO_THE_EYES),
        Setting(name=say(s.LENS_HEIGHT), value=_height(setup.camera_height_mm)),
        Setting(name=say(s.KEY_PLACE), value=_key_side(setup), note=_key_height(setup)),
        _setting(s.KEY_DISTANCE, distance_words(setup.key_distance_mm), s.TO_THE_FACE),
        Setting(name=say(s.KEY_SIZE), value=say(s.ACROSS, length=length_words(setup.key_size_mm))),
        _fill(setup),
        _background(setup),
        Setting(name=say(s.CROP), value=_framing(setup), note=say(s.CROPS[setup.crop])),
    )


def stops_words(stops: float) -> str:
    """How many stops, without a sign: 1 stop, 1.5 stops."""
    number = plain_number(abs(stops))
    return say(s.ONE_STOP) if number == "1" else say(s.STOPS, stops=number)


def _setting(name: str, value: str, note: str) -> Setting:
    return Setting(name=say(name), value=value, note=say(note))


def _lens(setup: Setup) -> Setting:
    value = say(
        s.LENS_AND_APERTURE,
        focal=plain_number(setup.focal_mm, 0),
        f_number=plain_number(setup.f_number),
    )
    width, height = plain_number(setup.sensor_width_mm), plain_number(setup.sensor_height_mm)
    note = say(s.SENSOR_NOTE, width=width, height=height)
    return Setting(name=say(s.CAMERA), value=value, note=note)


def _height(height_mm: float) -> str:
    if abs(height_mm) < LEVEL_MM:
        return say(s.AT_EYE_LINE)
    text = s.ABOVE_EYE_LINE if height_mm > 0 else s.BELOW_EYE_LINE
    return say(text, length=length_words(height_mm))


def _key_side(setup: Setup) -> str:
    if abs(setup.key_azimuth_deg) < STRAIGHT_DEG:
        level = abs(setup.key_elevation_deg) < STRAIGHT_DEG
        return say(s.KEY_STRAIGHT_LEVEL if level else s.KEY_STRAIGHT)
    return say(
        s.KEY_SIDE,
        side=camera_side(setup.key_azimuth_deg),
        azimuth=plain_number(abs(setup.key_azimuth_deg), 0),
    )


def _key_height(setup: Setup) -> str:
    if abs(setup.key_elevation_deg) < STRAIGHT_DEG:
        return say(s.KEY_LEVEL)
    above_mm = setup.key_distance_mm * math.sin(math.radians(setup.key_elevation_deg))
    text = s.KEY_RAISED if above_mm > 0 else s.KEY_LOWERED
    elevation = plain_number(abs(setup.key_elevation_deg), 0)
    return say(text, elevation=elevation, length=length_words(above_mm))


def _fill(setup: Setup) -> Setting:
    ratio = say(s.FILL_RATIO, ratio=plain_number(setup.fill_ratio))
    return Setting(
        name=say(s.FILL),
        value=f"{ratio}, {fill_words(setup.fill_ratio)}",
        note=say(s.FILL_CONVENTION),
    )


def fill_words(ratio: float) -> str:
    """How far the fill lies below the key, for an additive ratio of 1 or more."""
    if ratio <= 1:
        return say(s.FILL_NO_SHADE)
    stops = stops_between(ratio, "additive")
    if abs(stops) < EQUAL_STOPS:
        return say(s.FILL_EQUAL)
    return say(s.FILL_BELOW if stops > 0 else s.FILL_ABOVE, stops=stops_words(stops))


def _background(setup: Setup) -> Setting:
    stops = setup.background_stops
    if abs(stops) < EQUAL_STOPS:
        tone = say(s.TONE_EQUAL)
    else:
        text = s.TONE_DARKER if stops < 0 else s.TONE_BRIGHTER
        tone = say(text, stops=stops_words(stops))
    place = say(s.BACKGROUND_BEHIND, length=distance_words(setup.background_distance_mm))
    return Setting(name=say(s.BACKGROUND), value=place, note=tone)


def _framing(setup: Setup) -> str:
    return f"{say(s.FRAMINGS[setup.framing])}, {setup.aspect}"
