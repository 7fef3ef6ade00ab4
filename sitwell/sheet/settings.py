"""Camera, light, background and crop in words for the photographer and the assistant."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sitwell.base.units import (
    distance_words,
    length_words,
    plain_number,
    small_words,
    stops_words,
)
from sitwell.base.words import joined
from sitwell.scene.lens import circle_of_confusion_mm, depth_of_field_mm, sharp_range_mm
from sitwell.scene.light import stops_between
from sitwell.scene.light_pattern import light_breadth, light_pattern
from sitwell.scene.rim import needs_boom
from sitwell.scene.setup import Setup
from sitwell.sheet import sentences as s
from sitwell.sheet.figures import fits_behind_sitter
from sitwell.sheet.sentences import say
from sitwell.sheet.words import camera_side

# Closer than this to the middle, a stand or a tripod can't be told apart from the middle.
LEVEL_MM = 10.0
STRAIGHT_DEG = 2.5
EQUAL_STOPS = 0.05
UNSEEN_SHARE = 0.002  # of the face: less of an ear is not looked at


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
        Setting(
            name=say(s.KEY_PLACE),
            value=_side(setup.key_azimuth_deg, setup.key_elevation_deg),
            note=_raised(setup.key_elevation_deg, setup.key_distance_mm),
        ),
        _setting(s.KEY_DISTANCE, distance_words(setup.key_distance_mm), s.TO_THE_FACE),
        Setting(name=say(s.KEY_SIZE), value=say(s.ACROSS, length=length_words(setup.key_size_mm))),
        _fill(setup),
        *_rim(setup),
        _background(setup),
        *_background_light(setup),
        Setting(name=say(s.CROP), value=_framing(setup), note=say(s.CROPS[setup.crop])),
    )


def pattern_words(measures: Mapping[str, float], fill_ratio: float) -> tuple[Setting, ...]:
    """What the light is called, by what it does in the picture; nothing where it has no name."""
    pattern, breadth = light_pattern(measures, fill_ratio), light_breadth(measures)
    if not pattern:
        return ()
    names = [say(s.PATTERNS[pattern]), *([say(s.BREADTHS[breadth])] if breadth else [])]
    return (Setting(name=say(s.LIGHT), value=", ".join(names), note=say(s.BY_ITS_SHADOW)),)


def sharp_words(setup: Setup, measures: Mapping[str, float]) -> Setting:
    """How deep the picture passes as sharp about the eyes, and what of the face does not.

    Sharp is what blurs by no more than a circle of confusion, the sensor's diagonal over 1500.
    """
    circle_mm = circle_of_confusion_mm(setup.sensor_width_mm, setup.sensor_height_mm)
    lens = (setup.focal_mm, setup.f_number, setup.distance_mm, circle_mm)
    near_mm, far_mm = sharp_range_mm(*lens)
    gaps = {"before": small_words(setup.distance_mm - near_mm)}
    if math.isinf(far_mm):
        return Setting(name=say(s.SHARP), value=say(s.SHARP_BEHIND, **gaps), note=_soft(measures))
    gaps |= {
        "behind": small_words(far_mm - setup.distance_mm),
        "depth": small_words(depth_of_field_mm(*lens)),
    }
    return Setting(name=say(s.SHARP), value=say(s.SHARP_DEPTH, **gaps), note=_soft(measures))


def _soft(measures: Mapping[str, float]) -> str:
    """What is in view and not sharp; "" where nothing was measured."""
    if "blur_far_eye_coc" not in measures:
        return ""
    soft = [
        say(name)
        for part, name in s.SOFT_PARTS.items()
        if measures.get(f"blur_{part}_coc", 0.0) > 1.0
        and measures.get(f"ear_show_{part.removeprefix('ear_')}", 1.0) > UNSEEN_SHARE
    ]
    return say(s.NOT_SHARP, parts=joined(soft, ", ")) if soft else say(s.ALL_SHARP)


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
    return say(text, length=length_words(abs(height_mm)))


def _side(azimuth_deg: float, elevation_deg: float) -> str:
    if abs(azimuth_deg) < STRAIGHT_DEG:
        level = abs(elevation_deg) < STRAIGHT_DEG
        return say(s.KEY_STRAIGHT_LEVEL if level else s.KEY_STRAIGHT)
    return say(s.KEY_SIDE, side=camera_side(azimuth_deg), azimuth=plain_number(abs(azimuth_deg), 0))


def _raised(elevation_deg: float, distance_mm: float) -> str:
    if abs(elevation_deg) < STRAIGHT_DEG:
        return say(s.KEY_LEVEL)
    above_mm = distance_mm * math.sin(math.radians(elevation_deg))
    text = s.KEY_RAISED if above_mm > 0 else s.KEY_LOWERED
    elevation = plain_number(abs(elevation_deg), 0)
    return say(text, elevation=elevation, length=length_words(abs(above_mm)))


def _rim(setup: Setup) -> tuple[Setting, ...]:
    if setup.rim == "off":
        return ()
    height = _raised(setup.rim_elevation_deg, setup.rim_distance_mm)
    reach = say(
        s.DISTANCE_AND_SIZE,
        distance=distance_words(setup.rim_distance_mm),
        length=length_words(setup.rim_size_mm),
    )
    return (
        Setting(
            name=say(s.RIM_PLACE),
            value=_side(setup.rim_azimuth_deg, setup.rim_elevation_deg),
            note=say(s.ON_A_BOOM, height=height) if needs_boom(setup) else height,
        ),
        _setting(s.RIM_DISTANCE, reach, s.OFF_THE_LENS),
        _setting(s.RIM_LEVEL, tone_words(setup.rim_stops), s.METERED_ALONE),
    )


def _background_light(setup: Setup) -> tuple[Setting, ...]:
    if setup.background_light == "off":
        return ()
    length = distance_words(setup.background_light_distance_mm)
    behind = fits_behind_sitter(setup)
    value = say(s.FROM_BACKGROUND, length=length)
    return (_setting(s.BACKGROUND_LIGHT_PLACE, value, s.LOW_BEHIND if behind else s.OUT_AT_SIDE),)


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
    return say(s.FILL_BELOW if stops > 0 else s.FILL_ABOVE, stops=stops_words(abs(stops)))


def _background(setup: Setup) -> Setting:
    place = say(s.BACKGROUND_BEHIND, length=distance_words(setup.background_distance_mm))
    return Setting(name=say(s.BACKGROUND), value=place, note=tone_words(setup.background_stops))


def tone_words(stops: float) -> str:
    """How bright something is against the lit cheek."""
    if abs(stops) < EQUAL_STOPS:
        return say(s.TONE_EQUAL)
    return say(s.TONE_DARKER if stops < 0 else s.TONE_BRIGHTER, stops=stops_words(abs(stops)))


def _framing(setup: Setup) -> str:
    return f"{say(s.FRAMINGS[setup.framing])}, {setup.aspect}"
