"""The sun in words for the photographer: when, which way, and what must not be done."""

from sitwell.base.words import joined, mark, number, tr
from sitwell.scene.setup import Setup
from sitwell.scene.sun import (
    HIGH_DEG,
    INTO_LENS_DEG,
    SQUINT_DEG,
    Spell,
    Sun,
    camera_bearing_for,
    face_bearing_deg,
    gaze_to_sun_deg,
    lens_to_sun_deg,
    under_the_sun,
)
from sitwell.scene.sun_day import Hour, SunDay, opposite_deg

LOW_DEG = 10.0
NEAR_DEG = 5.0
STRAIGHT_DEG = 2.5
NOBODY = mark(
    "Never look at the sun, not through a finder either, and never aim a long lens at it: it burns "
    "eyes, sensors and shutters."
)
NORTH = mark(
    "Bearings count from true north; a compass needle is off by the local declination. Hills, "
    "houses and clouds are not known."
)
POINTS = (
    mark("north"),
    mark("north-east"),
    mark("east"),
    mark("south-east"),
    mark("south"),
    mark("south-west"),
    mark("west"),
    mark("north-west"),
)
BEARING = mark("{point} ({degrees}°)")
TITLE = mark("The sun on {day} at {latitude}, {longitude}, times in {zone}")
COMES_AND_GOES = mark("Sunrise {rises}, sunset {sets}; highest {height}° at {top}, in the {way}.")
STAYS_UP = mark("The sun does not set on this day; highest {height}° at {top}, in the {way}.")
STAYS_DOWN = mark("On this day the sun does not rise here.")
PARTLY = mark("Highest {height}° at {top}, in the {way}; the day has no sunrise and sunset both.")
WANTS = (
    mark("The set-up wants its key {height}° up, at camera left, {side}° round."),
    mark("The set-up wants its key {height}° up, at camera right, {side}° round."),
)
WANTS_STRAIGHT = mark("The set-up wants its key {height}° up, straight over the lens.")
SPELL = mark("From {first} to {last} the sun is where the set-up wants it, best at {best}.")
SPELL_STAND = mark(
    "Then the camera stands to the {stands} of the sitter and shoots toward the {shoots}; the "
    "sitter’s nose points to the {nose}."
)
SPELL_ROUND = mark(
    "Over that time go round with the sun, shooting first toward the {first}, last toward the "
    "{last}."
)
NEVER = mark(
    "On this day the sun never stands where the set-up wants it, {wanted}° high; it climbs to "
    "{top}° at {time}. Take another day, plan for a lower sun, or work in open shade."
)
NEVER_SO = mark(
    "On this day the sun never stands where the set-up wants it while the camera looks toward "
    "the {way}. Turn the camera, or take another day."
)
NOT_UP = mark("The sun is not up now.")
NOW = mark(
    "Now the camera stands to the {stands} of the sitter and shoots toward the {shoots}; the "
    "sitter’s nose points to the {nose}. The sun is {height}° high: {fits}."
)
FITS = mark("as planned")
HIGHER = mark("{off}° higher than planned")
LOWER = mark("{off}° lower than planned")
ASIDE = mark("{off}° from the planned key")
TOO_HIGH = mark("high: the brows shade the eyes")
TOO_LOW = mark("low: warm and weak")
SQUINTS = mark("squinting")
INTO_LENS = mark("into the lens")
# Of the table: the last two belong to a set-up.
HEADINGS = (
    mark("time"),
    mark("height"),
    mark("sun"),
    mark("shoot toward"),
    mark("sitter’s nose"),
)
SQUINT = mark(
    "The sun is {angle}° from where the sitter looks and makes them squint: turn both farther "
    "round, wait, or shade it, and let them open their eyes only for the frame."
)
BEFORE_LENS = mark(
    "The sun stands almost before the lens: shade the lens, and frame on the screen, not through "
    "an optical finder."
)


def bearing_words(bearing_deg: float) -> str:
    """A bearing as a person with a compass needs it: "south-east (130°)"."""
    point = tr(POINTS[round(bearing_deg / 45.0) % 8])
    return tr(BEARING, degrees=str(round(bearing_deg) % 360), point=point)


def title_words(day: SunDay) -> str:
    """Where and when the day is."""
    return tr(
        TITLE,
        day=day.day.isoformat(),
        latitude=number(day.place.latitude_deg, 3),
        longitude=number(day.place.longitude_deg, 3),
        zone=day.zone,
    )


def day_words(day: SunDay) -> tuple[str, ...]:
    """Sunrise and sunset, what the set-up wants, and when on this day it gets it."""
    if day.top.elevation_deg <= 0.0:
        return (tr(STAYS_DOWN),)
    gaps = {
        "height": number(day.top.elevation_deg, 0),
        "top": _clock(day.top),
        "way": bearing_words(day.top.bearing_deg),
    }
    if day.rises and day.sets:
        opening = tr(COMES_AND_GOES, rises=_clock(day.rises), sets=_clock(day.sets), **gaps)
    else:
        opening = tr(PARTLY if day.rises or day.sets else STAYS_UP, **gaps)
    return (opening, *(() if day.setup is None else _setup_words(day, day.setup)))


def heed_words(setup: Setup) -> tuple[str, ...]:
    """Warnings for a set-up whose key is the sun, the care sentence last."""
    notes = []
    gaze = gaze_to_sun_deg(setup)
    if gaze < SQUINT_DEG:
        notes.append(tr(SQUINT, angle=number(gaze, 0)))
    if lens_to_sun_deg(setup) < INTO_LENS_DEG:
        notes.append(tr(BEFORE_LENS))
    return (*notes, tr(NOBODY))


def now_words(setup: Setup, sun: Sun) -> tuple[str, ...]:
    """Which way to face now, how the sun's height fits, and what to heed."""
    if sun.elevation_deg <= 0.0:
        return (tr(NOT_UP),)
    bearing = camera_bearing_for(sun, setup)
    standing = tr(
        NOW,
        height=number(sun.elevation_deg, 0),
        fits=_fits(sun.elevation_deg - setup.key_elevation_deg),
        **_stand(setup, bearing),
    )
    return (standing, *heed_words(under_the_sun(setup, sun, bearing)))


def remark(hour: Hour) -> str:
    """What to mind in one row of the day: as planned, too high or too low, squinting."""
    if hour.higher_deg is None or hour.off_deg is None:
        high = hour.sun.elevation_deg > HIGH_DEG
        low = hour.sun.elevation_deg < LOW_DEG
        return tr(TOO_HIGH) if high else tr(TOO_LOW) if low else ""
    aside = hour.off_deg > abs(hour.higher_deg) + NEAR_DEG
    said = [
        tr(ASIDE, off=number(hour.off_deg, 0)) if aside else _fits(hour.higher_deg),
        tr(SQUINTS) if hour.squint else "",
        tr(INTO_LENS) if hour.into_lens else "",
    ]
    return joined([part for part in said if part], ", ")


def _setup_words(day: SunDay, setup: Setup) -> tuple[str, ...]:
    height = number(setup.key_elevation_deg, 0)
    if abs(setup.key_azimuth_deg) < STRAIGHT_DEG:
        wants = tr(WANTS_STRAIGHT, height=height)
    else:
        side = number(abs(setup.key_azimuth_deg), 0)
        wants = tr(WANTS[setup.key_azimuth_deg > 0], height=height, side=side)
    if not day.spells:
        return (wants, _never_words(day, setup))
    told = [line for spell in day.spells for line in _spell_words(spell, setup, day)]
    return (wants, *dict.fromkeys(told))


def _never_words(day: SunDay, setup: Setup) -> str:
    fixed = day.camera_bearing_deg
    if fixed is not None and day.top.elevation_deg >= setup.key_elevation_deg - NEAR_DEG:
        return tr(NEVER_SO, way=bearing_words(fixed))
    return tr(
        NEVER,
        wanted=number(setup.key_elevation_deg, 0),
        top=number(day.top.elevation_deg, 0),
        time=_clock(day.top),
    )


def _spell_words(spell: Spell, setup: Setup, day: SunDay) -> list[str]:
    when = tr(SPELL, first=_clock(spell.first), last=_clock(spell.last), best=_clock(spell.best))
    stand = tr(SPELL_STAND, **_stand(setup, spell.camera_bearing_deg))
    said = [when, stand]
    if day.camera_bearing_deg is None:
        first, last = (camera_bearing_for(sun, setup) for sun in (spell.first, spell.last))
        said.append(tr(SPELL_ROUND, first=bearing_words(first), last=bearing_words(last)))
    heed = heed_words(under_the_sun(setup, spell.best, spell.camera_bearing_deg))[:-1]
    return [joined(said), *heed]


def _stand(setup: Setup, camera_bearing_deg: float) -> dict[str, str]:
    return {
        "stands": bearing_words(opposite_deg(camera_bearing_deg)),
        "shoots": bearing_words(camera_bearing_deg),
        "nose": bearing_words(face_bearing_deg(camera_bearing_deg, setup)),
    }


def _fits(higher_deg: float) -> str:
    if abs(higher_deg) <= NEAR_DEG:
        return tr(FITS)
    return tr(HIGHER if higher_deg > 0 else LOWER, off=number(abs(higher_deg), 0))


def _clock(sun: Sun) -> str:
    return f"{sun.when:%H:%M}"
