"""A day of sun at a place: when it comes and goes, and when it stands where a set-up wants it."""

import math
from dataclasses import dataclass
from datetime import date, tzinfo
from typing import Any

from sitwell.scene.setup import Setup
from sitwell.scene.sun import (
    INTO_LENS_DEG,
    SQUINT_DEG,
    Place,
    Spell,
    Sun,
    camera_bearing_for,
    face_bearing_deg,
    gaze_to_sun_deg,
    highest,
    key_off_deg,
    lens_to_sun_deg,
    rise_and_set,
    spells,
    sun_over,
    under_the_sun,
)

LEAST_ROWS = 8  # of a table; a shorter day is told by the half hour or the quarter


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """One row of the day: where the sun stands, and, for a set-up, how to stand under it.

    ``higher_deg`` is how much higher than the set-up's key it stands, ``off_deg`` how far it is
    from the key in all, for a camera that can't go round. Bearings are the way the lens looks and
    the way the nose points.
    """

    sun: Sun
    camera_bearing_deg: float | None = None
    nose_bearing_deg: float | None = None
    higher_deg: float | None = None
    off_deg: float | None = None
    squint: bool = False
    into_lens: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """A whole day; ``rises`` and ``sets`` are None where the sun does not come or go.

    ``camera_bearing_deg`` is the way a camera looks that can't go round.
    """

    place: Place
    day: date
    zone: str
    rises: Sun | None
    sets: Sun | None
    top: Sun
    hours: tuple[Hour, ...]
    spells: tuple[Spell, ...] = ()
    setup: Setup | None = None
    camera_bearing_deg: float | None = None


def sun_day(
    place: Place,
    day: date,
    zone: tzinfo | None,
    setup: Setup | None = None,
    camera_bearing_deg: float | None = None,
) -> SunDay:
    """The day of a place, and for a set-up when the sun is its key and which way to face then.

    Without ``camera_bearing_deg`` sitter and camera go round, so that only the height counts.
    """
    track = sun_over(place, day, zone)
    rises, sets = rise_and_set(track)
    found = [] if setup is None else spells(track, setup, camera_bearing_deg=camera_bearing_deg)
    return SunDay(
        place=place,
        day=day,
        zone=_zone_words(track),
        rises=rises,
        sets=sets,
        top=highest(track),
        hours=tuple(_hour(sun, setup, camera_bearing_deg) for sun in _rows(track)),
        spells=tuple(found),
        setup=setup,
        camera_bearing_deg=camera_bearing_deg,
    )


def as_dict(day: SunDay) -> dict[str, Any]:
    """The day in plain JSON values: times in ISO 8601, degrees to a hundredth, null for none."""
    return {
        "place": {
            "latitude_deg": day.place.latitude_deg,
            "longitude_deg": day.place.longitude_deg,
        },
        "day": day.day.isoformat(),
        "sunrise": None if day.rises is None else _time(day.rises),
        "sunset": None if day.sets is None else _time(day.sets),
        "highest": _sun_as_dict(day.top),
        "key": None
        if day.setup is None
        else {
            "key_azimuth_deg": day.setup.key_azimuth_deg,
            "key_elevation_deg": day.setup.key_elevation_deg,
        },
        "spells": [_spell_as_dict(spell, day.setup) for spell in day.spells],
        "hours": [_hour_as_dict(hour) for hour in day.hours],
    }


def opposite_deg(bearing_deg: float) -> float:
    """The bearing of the way back: a camera that looks south stands to the north."""
    return (bearing_deg + 180.0) % 360.0


def _rows(track: list[Sun]) -> list[Sun]:
    """The sun at full hours while it is up; at half or quarter hours where there are few."""
    up = [sun for sun in track if sun.elevation_deg > 0.0]
    for step_min in (60, 30, 15):
        rows = [sun for sun in up if (sun.when.hour * 60 + sun.when.minute) % step_min == 0]
        if len(rows) >= LEAST_ROWS:
            break
    return rows


def _hour(sun: Sun, setup: Setup | None, camera_bearing_deg: float | None) -> Hour:
    if setup is None:
        return Hour(sun=sun)
    bearing = camera_bearing_for(sun, setup) if camera_bearing_deg is None else camera_bearing_deg
    there = under_the_sun(setup, sun, bearing)
    return Hour(
        sun=sun,
        camera_bearing_deg=bearing,
        nose_bearing_deg=face_bearing_deg(bearing, setup),
        higher_deg=sun.elevation_deg - setup.key_elevation_deg,
        off_deg=key_off_deg(sun, setup, bearing),
        squint=gaze_to_sun_deg(there) < SQUINT_DEG,
        into_lens=lens_to_sun_deg(there) < INTO_LENS_DEG,
    )


def _zone_words(track: list[Sun]) -> str:
    """The offsets of the day: "UTC+01:00", and both on a day on which the clocks change."""
    offsets = dict.fromkeys(f"UTC{sun.when.isoformat()[-6:]}" for sun in (track[0], track[-1]))
    return ", ".join(offsets)


def _spell_as_dict(spell: Spell, setup: Setup | None) -> dict[str, Any]:
    nose = None if setup is None else face_bearing_deg(spell.camera_bearing_deg, setup)
    return {
        "start": _time(spell.first),
        "end": _time(spell.last),
        "best": _sun_as_dict(spell.best),
        "off_deg": _hundredth(spell.off_deg),
        **_stand_as_dict(spell.camera_bearing_deg, nose),
    }


def _hour_as_dict(hour: Hour) -> dict[str, Any]:
    return _sun_as_dict(hour.sun) | {
        **_stand_as_dict(hour.camera_bearing_deg, hour.nose_bearing_deg),
        "higher_deg": _hundredth(hour.higher_deg),
        "off_deg": _hundredth(hour.off_deg),
        "squint": hour.squint,
        "into_lens": hour.into_lens,
    }


def _stand_as_dict(camera_bearing_deg: float | None, nose: float | None) -> dict[str, Any]:
    stands = None if camera_bearing_deg is None else opposite_deg(camera_bearing_deg)
    return {
        "camera_bearing_deg": _hundredth(camera_bearing_deg),
        "camera_stands_deg": _hundredth(stands),
        "nose_bearing_deg": _hundredth(nose),
    }


def _sun_as_dict(sun: Sun) -> dict[str, Any]:
    return {
        "time": _time(sun),
        "elevation_deg": _hundredth(sun.elevation_deg),
        "bearing_deg": _hundredth(sun.bearing_deg),
    }


def _time(sun: Sun) -> str:
    return sun.when.isoformat()


def _hundredth(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, 2)
