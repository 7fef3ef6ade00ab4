"""The settings under a light that stays: how to stand to the sun, the open sky or a window.

Nobody moves the light, so the sheet tells where sitter and camera stand, by the compass where the
light's bearing is known. Bearings count from true north.
"""

from typing import Any

from sitwell.base.units import distance_words, length_words
from sitwell.base.words import joined, mark, number
from sitwell.brief.place_light import Daylight
from sitwell.scene.setup import Setup
from sitwell.scene.sun import HIGH_DEG, bearing_at, face_bearing_deg
from sitwell.scene.sun_day import opposite_deg
from sitwell.scene.sun_words import bearing_words
from sitwell.scene.window import stand_by
from sitwell.sheet import sentences as s
from sitwell.sheet.sentences import say
from sitwell.sheet.settings import STRAIGHT_DEG, Setting, fill_words, studio_words, tone_words
from sitwell.sheet.words import camera_side

NEARLY = 0.25  # of a ratio: what the place fills by itself is near enough (design choice)

STAND = mark("Stand")
TIME = mark("Time")
SUN = mark("the sun, at {side}, {angle}° round")
SUN_STRAIGHT = mark("the sun, straight over the lens")
SHADE = mark("the open sky, at {side}, {angle}° round")
SHADE_STRAIGHT = mark("the open sky, straight behind the camera")
WINDOW = mark("the window, at {side}, {angle}° round")
WINDOW_STRAIGHT = mark("the window, straight behind the camera")
KEYS = {"sun": SUN, "shade": SHADE, "window": WINDOW}
KEYS_STRAIGHT = {"sun": SUN_STRAIGHT, "shade": SHADE_STRAIGHT, "window": WINDOW_STRAIGHT}
SUN_HEIGHT = mark("{height}° up; small and hard")
SUN_HIGH = mark(
    "{height}° up: so high, the brows shade the eyes; better another hour, or open shade"
)
SHADE_HEIGHT = mark("its light comes from about {height}° up; large and soft")
WINDOW_HEIGHT = mark("its middle is {height}° up")
WINDOW_LEVEL = mark("its middle is level with the eyes")
WINDOW_LOW = mark("its middle is {height}° below the eyes")
SHOOT = mark("shoot toward the {way}")
SHOOT_NOTE = mark(
    "from true north; the camera stands to the {stands} of the sitter, whose nose points to the "
    "{nose}"
)
GO_ROUND = {
    "sun": mark("go round the sitter until the sun is there, and let the sitter turn with you"),
    "shade": mark(
        "the sitter just inside the shade; go round until the open sky is there, and let the "
        "sitter turn with you"
    ),
}
ASK_FOR_TIME = mark("sitwell sun with this plan tells when the sun stands so, and the bearings")
HOLDS = mark("from {first} to {last} the sun stays within 5° of this height: go round with it")
BY_WINDOW = mark("the sitter’s eyes {length} straight in from the window’s middle")
CAMERA_BY_WINDOW = (
    mark(
        "the lens {off} off the window’s wall and {aside} along it, on the sitter’s own left as "
        "they face the window"
    ),
    mark(
        "the lens {off} off the window’s wall and {aside} along it, on the sitter’s own right as "
        "they face the window"
    ),
)
CAMERA_BEFORE_WINDOW = mark("the lens between sitter and window, {off} off its wall")
NO_REFLECTOR = {
    "sun": mark("what sky and ground give; no reflector"),
    "shade": mark("what the surroundings give; no reflector"),
    "window": mark("about what the room gives; no reflector"),
}
REFLECTOR = {
    "sun": mark("a reflector opposite the sun, by meter: sky and ground alone give {ratio}:1"),
    "shade": mark("a reflector opposite the sky, by meter: the place alone gives {ratio}:1"),
    "window": mark("a reflector opposite the window, by meter: the room alone gives {ratio}:1"),
}
BLACK_CLOTH = mark("black cloth opposite the light, by meter: the place alone gives {ratio}:1")
BY_METER = mark("by meter, with a reflector opposite the light")
CHOSEN_BEHIND = mark("{length} or more behind the sitter")
CHOSEN_TONE = mark("look for one that is {tone}, by spot meter")


def place_words(setup: Setup, daylight: Daylight | None = None) -> tuple[Setting, ...]:
    """The settings, with key, fill and background as they are under a light that stays.

    ``daylight`` is that light (``own_light``), None for one that can be moved.
    """
    lines = studio_words(setup)
    if daylight is None:
        return lines
    own = {
        say(s.KEY_PLACE): _stand(setup, daylight),
        say(s.KEY_DISTANCE): (),
        say(s.KEY_SIZE): (),
        say(s.FILL): (_fill(setup, daylight),),
        say(s.BACKGROUND): (_background(setup, daylight),),
    }
    return tuple(line for old in lines for line in own.get(old.name, (old,)))


def daylight_as_dict(setup: Setup, daylight: Daylight) -> dict[str, Any]:
    """The light that stays under a set-up, in plain JSON values; null for what is not known."""
    bearing = daylight.bearing_deg
    return {
        "light": daylight.light.kind(),
        "when": daylight.when or None,
        "bearing_deg": bearing,
        "camera_bearing_deg": None if bearing is None else bearing_at(bearing, setup),
        "unfilled_ratio": daylight.unfilled_ratio,
    }


def _stand(setup: Setup, daylight: Daylight) -> tuple[Setting, ...]:
    key = Setting(name=say(s.KEY_PLACE), value=_key(setup, daylight), note=_height(setup, daylight))
    if daylight.light.kind() == "window":
        return key, _by_window(setup), *_by_compass(setup, daylight)
    return (
        key,
        *(_by_compass(setup, daylight) or (_going_round(setup, daylight),)),
        *_time(daylight),
    )


def _key(setup: Setup, daylight: Daylight) -> str:
    kind = daylight.light.kind()
    if abs(setup.key_azimuth_deg) < STRAIGHT_DEG:
        return say(KEYS_STRAIGHT[kind])
    angle = number(abs(setup.key_azimuth_deg), 0)
    return say(KEYS[kind], side=camera_side(setup.key_azimuth_deg), angle=angle)


def _height(setup: Setup, daylight: Daylight) -> str:
    kind, height = daylight.light.kind(), number(setup.key_elevation_deg, 0)
    if kind == "window":
        if abs(setup.key_elevation_deg) < STRAIGHT_DEG:
            return say(WINDOW_LEVEL)
        text = WINDOW_HEIGHT if setup.key_elevation_deg > 0 else WINDOW_LOW
        return say(text, height=number(abs(setup.key_elevation_deg), 0))
    if kind == "shade":
        return say(SHADE_HEIGHT, height=height)
    return say(SUN_HIGH if setup.key_elevation_deg > HIGH_DEG else SUN_HEIGHT, height=height)


def _by_compass(setup: Setup, daylight: Daylight) -> tuple[Setting, ...]:
    """Which way to shoot, where the light's bearing is known."""
    if daylight.bearing_deg is None:
        return ()
    shoots_deg = bearing_at(daylight.bearing_deg, setup)
    note = say(
        SHOOT_NOTE,
        stands=bearing_words(opposite_deg(shoots_deg)),
        nose=bearing_words(face_bearing_deg(shoots_deg, setup)),
    )
    return (Setting(name=say(STAND), value=say(SHOOT, way=bearing_words(shoots_deg)), note=note),)


def _going_round(setup: Setup, daylight: Daylight) -> Setting:
    kind = daylight.light.kind()
    note = say(ASK_FOR_TIME) if kind == "sun" else ""
    return Setting(name=say(STAND), value=say(GO_ROUND[kind]), note=note)


def _time(daylight: Daylight) -> tuple[Setting, ...]:
    if not daylight.when:
        return ()
    first, last = daylight.holds or ("", "")
    note = say(HOLDS, first=first, last=last) if daylight.holds else ""
    return (Setting(name=say(TIME), value=daylight.when, note=note),)


def _by_window(setup: Setup) -> Setting:
    stand = stand_by(setup)
    off, aside = length_words(stand.camera_from_wall_mm), length_words(stand.camera_aside_mm)
    if stand.camera_from_wall_mm < 0.0:  # a window seen from one place, such as a bay's
        note = ""
    elif abs(setup.key_azimuth_deg) < STRAIGHT_DEG:
        note = say(CAMERA_BEFORE_WINDOW, off=off)
    else:
        # A window at camera right is at the left hand of a sitter who faces the camera, so that
        # for one who faces the window the camera is at the right hand.
        note = say(CAMERA_BY_WINDOW[setup.key_azimuth_deg > 0], off=off, aside=aside)
    value = say(BY_WINDOW, length=distance_words(stand.from_window_mm))
    return Setting(name=say(STAND), value=value, note=note)


def _fill(setup: Setup, daylight: Daylight) -> Setting:
    ratio = say(s.FILL_RATIO, ratio=number(setup.fill_ratio))
    value = joined([ratio, fill_words(setup.fill_ratio)], ", ")
    return Setting(name=say(s.FILL), value=value, note=_fill_note(setup, daylight))


def _fill_note(setup: Setup, daylight: Daylight) -> str:
    kind, alone = daylight.light.kind(), daylight.unfilled_ratio
    if alone is None:
        return say(BY_METER)
    if fills_itself(setup, daylight):
        return say(NO_REFLECTOR[kind])
    text = REFLECTOR[kind] if setup.fill_ratio < alone else BLACK_CLOTH
    return say(text, ratio=number(alone, 0 if alone >= 10.0 else 1))


def fills_itself(setup: Setup, daylight: Daylight) -> bool:
    """Whether the place alone fills about as much as the set-up wants."""
    alone = daylight.unfilled_ratio
    return alone is not None and abs(setup.fill_ratio / alone - 1.0) < NEARLY


def _background(setup: Setup, daylight: Daylight) -> Setting:
    indoors = daylight.light.kind() == "window"
    place = s.BACKGROUND_BEHIND if indoors else CHOSEN_BEHIND
    return Setting(
        name=say(s.BACKGROUND),
        value=say(place, length=distance_words(setup.background_distance_mm)),
        note=say(CHOSEN_TONE, tone=tone_words(setup.background_stops)),
    )
