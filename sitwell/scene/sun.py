"""The sun as the key: where it stands, when it stands where a set-up wants it, which way to face.

Bearings are compass degrees, clockwise from true north; a camera's bearing is the way it looks, so
that its right is 90 degrees on. Needs pvlib (the extra ``sun``), which follows Reda and Andreas
2004 with refraction. Nothing here knows of clouds, houses or trees.
"""

import math
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import PlaceError, RoomError
from sitwell.base.rotations import direction_from_angles, rotation_from_pose
from sitwell.base.words import tr
from sitwell.brief.kit import LightSource
from sitwell.brief.place_light import Daylight, sun_light
from sitwell.brief.room import Room
from sitwell.scene.daylight_level import sun_ratio
from sitwell.scene.setup import Setup

REFRACTION_DEG = 0.5667  # at the horizon, as in Reda and Andreas's example
# As computed, the apparent height leaps past this when the upper limb meets the horizon.
RISEN_DEG = -0.5
LOWEST_DEG = 1.0  # lower, hills and haze decide (design choice)
# Above it the brows of our mean head keep the sun from the eyes: no catchlight is left.
HIGH_DEG = 45.0
# Design choices: no published angle says where squinting or glare begins.
SQUINT_DEG = 40.0
INTO_LENS_DEG = 30.0
STEP = timedelta(minutes=1)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on earth: degrees north and east positive, metres above the sea."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a place that is not on earth."""
        if not -90 <= self.latitude_deg <= 90:
            raise PlaceError(
                tr(
                    "The latitude {latitude_deg} is no place on earth; give -90 (south) to 90.",
                    latitude_deg=f"{self.latitude_deg:g}",
                )
            )
        if not -180 <= self.longitude_deg <= 180:
            raise PlaceError(
                tr(
                    "The longitude {longitude_deg} is no place on earth; give -180 (west) to 180.",
                    longitude_deg=f"{self.longitude_deg:g}",
                )
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sun:
    """Where the sun stands at a moment; below 0 degrees it has set."""

    when: datetime
    bearing_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A time in which the sun is near enough to where a set-up wants it; ``best`` is its nearest.

    ``first`` and ``last`` are the sun as the time begins and ends. ``off_deg`` is how far it is off
    at best, ``camera_bearing_deg`` the way to look then.
    """

    first: Sun
    last: Sun
    best: Sun
    off_deg: float
    camera_bearing_deg: float


def sun_at(
    place: Place,
    when: datetime,
    *,
    pressure_hpa: float = 1013.25,
    temperature_c: float = 12.0,
    delta_t_s: float = 67.0,
) -> Sun:
    """The sun at one moment, refraction included; ``when`` must name its time zone."""
    if when.tzinfo is None:
        raise PlaceError(
            tr(
                "The time {when} names no time zone; add one, such as +01:00.",
                when=f"{when:%Y-%m-%d %H:%M}",
            )
        )
    return _track(place, [when], pressure_hpa, temperature_c, delta_t_s)[0]


def sun_over(place: Place, day: date, zone: tzinfo | None) -> list[Sun]:
    """The sun at every minute of a day in a time zone, None for the machine's own.

    A day on which the clocks change has an hour less or more.
    """
    start, end = (
        _in_zone(datetime.combine(each, time()), zone).astimezone(UTC)
        for each in (day, day + timedelta(days=1))
    )
    moments = [(start + i * STEP).astimezone(zone) for i in range(int((end - start) / STEP))]
    return _track(place, moments, 1013.25, 12.0, 67.0)


def _in_zone(when: datetime, zone: tzinfo | None) -> datetime:
    return when.astimezone() if zone is None else when.replace(tzinfo=zone)


def rise_and_set(track: list[Sun]) -> tuple[Sun | None, Sun | None]:
    """The first minute in which the sun is up and the last, None where it does not come or go."""
    up = [sun.elevation_deg > RISEN_DEG for sun in track]
    pairs = list(pairwise(up))
    rises = next((track[i + 1] for i, (was, now) in enumerate(pairs) if now and not was), None)
    sets = next((track[i] for i, (was, now) in enumerate(pairs) if was and not now), None)
    return rises, sets


def key_from_sun_deg(sun: Sun, camera_bearing_deg: float) -> tuple[float, float]:
    """Azimuth and elevation of the sun as a set-up's key, for a camera that looks that way."""
    return _wrapped(camera_bearing_deg + 180.0 - sun.bearing_deg), sun.elevation_deg


def camera_bearing_for(sun: Sun, setup: Setup) -> float:
    """The way (0..360) in which the camera must look for the sun to be at the set-up's key."""
    return bearing_at(sun.bearing_deg, setup)


def bearing_at(light_bearing_deg: float, setup: Setup) -> float:
    """The same for any light that is seen in a bearing from the sitter."""
    return (light_bearing_deg - 180.0 + setup.key_azimuth_deg) % 360.0


def face_bearing_deg(camera_bearing_deg: float, setup: Setup) -> float:
    """The way (0..360) in which the sitter's nose points in the set-up."""
    return (camera_bearing_deg + 180.0 - setup.turn_deg) % 360.0


def spells(
    track: list[Sun],
    setup: Setup,
    *,
    within_deg: float = 5.0,
    camera_bearing_deg: float | None = None,
) -> list[Spell]:
    """When the sun stands where the set-up wants its key, in the order of the day.

    Without ``camera_bearing_deg`` camera and sitter can go round, so that only the sun's height
    counts. Empty when it never does; ``highest`` says why.
    """

    def off(sun: Sun) -> float:
        if camera_bearing_deg is None:
            return abs(sun.elevation_deg - setup.key_elevation_deg)
        return key_off_deg(sun, setup, camera_bearing_deg)

    offs = [off(sun) if sun.elevation_deg > 0.0 else math.inf for sun in track]
    found: list[Spell] = []
    first = None
    for index, value in enumerate([*offs, math.inf]):
        if value <= within_deg and first is None:
            first = index
        elif value > within_deg and first is not None:
            best = min(range(first, index), key=offs.__getitem__)
            bearing = camera_bearing_deg
            found.append(
                Spell(
                    first=track[first],
                    last=track[index - 1],
                    best=track[best],
                    off_deg=offs[best],
                    camera_bearing_deg=camera_bearing_for(track[best], setup)
                    if bearing is None
                    else bearing,
                )
            )
            first = None
    return found


def key_off_deg(sun: Sun, setup: Setup, camera_bearing_deg: float) -> float:
    """Angle between the sun, for a camera that looks that way, and the set-up's key."""
    return _between_deg(
        direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg),
        direction_from_angles(*key_from_sun_deg(sun, camera_bearing_deg)),
    )


def highest(track: list[Sun]) -> Sun:
    """The sun at its highest."""
    return max(track, key=lambda sun: sun.elevation_deg)


def under_the_sun(setup: Setup, sun: Sun, camera_bearing_deg: float) -> Setup:
    """The set-up with the sun as its key: its direction, its size, no falloff worth the name."""
    azimuth_deg, elevation_deg = key_from_sun_deg(sun, camera_bearing_deg)
    light = sun_as_light(sun)
    return setup.with_changes(
        key_azimuth_deg=azimuth_deg,
        key_elevation_deg=elevation_deg,
        key_distance_mm=light.distance_mm[0],
        key_size_mm=light.size_mm,
    )


def sun_as_light(sun: Sun) -> LightSource:
    """The sun as a light to plan with: its height is given, sitter and camera go round under it."""
    return sun_light((sun.elevation_deg, sun.elevation_deg))


def room_in_sun(room: Room, place: Place, when: datetime, *, within_deg: float = 5.0) -> Room:
    """A sunlit place at a moment: the sun's height, its bearing, what sky and ground fill.

    What was metered there, exposure or ratio, stays.
    RoomError for a room that the sun does not light, PlaceError for a sun that is not up.
    """
    if room.daylight is None or room.daylight.light.kind() != "sun":
        raise RoomError(
            tr(
                "The room '{room}' is not lit by the sun; give --room outdoors, or a room file "
                "with [sun], to plan for a place and a time.",
                room=room.name,
            )
        )
    sun = sun_at(place, when)
    day = sun_over(place, when.date(), when.tzinfo)
    if sun.elevation_deg < LOWEST_DEG:
        raise PlaceError(_not_up(sun, day))
    near = _near_in_time(day, sun, within_deg)
    there = room.daylight
    daylight = Daylight(
        light=replace(sun_as_light(sun), exposure_value=there.light.exposure_value),
        unfilled_ratio=there.unfilled_ratio or sun_ratio(sun.elevation_deg),
        bearing_deg=sun.bearing_deg % 360.0,
        when=when.isoformat(sep=" ", timespec="minutes"),
        holds=(f"{near[0].when:%H:%M}", f"{near[-1].when:%H:%M}"),
    )
    return replace(room, daylight=daylight)


def _near_in_time(day: list[Sun], sun: Sun, within_deg: float) -> list[Sun]:
    """The minutes around a moment in which the sun's height stays near."""
    apart = [abs(there.elevation_deg - sun.elevation_deg) > within_deg for there in day]
    at = min(range(len(day)), key=lambda i: abs((day[i].when - sun.when).total_seconds()))
    first = next((i + 1 for i in range(at, -1, -1) if apart[i]), 0)
    last = next((i for i in range(at, len(day)) if apart[i]), len(day))
    return day[first:last] or [sun]


def _not_up(sun: Sun, day: list[Sun]) -> str:
    rises, sets = rise_and_set(day)
    gaps = {"time": f"{sun.when:%Y-%m-%d %H:%M}", "height": f"{sun.elevation_deg:.0f}"}
    if highest(day).elevation_deg <= LOWEST_DEG:
        return tr(
            "At {time} the sun is not up there ({height} degrees); take another day, or plan for "
            "the room open-shade.",
            **gaps,
        )
    if rises is None or sets is None:
        return tr(
            "At {time} the sun is not up there ({height} degrees); choose another time, or plan "
            "for the room open-shade.",
            **gaps,
        )
    return tr(
        "At {time} the sun is not up there ({height} degrees); choose a time between {rises} and "
        "{sets}, or plan for the room open-shade.",
        rises=f"{rises.when:%H:%M}",
        sets=f"{sets.when:%H:%M}",
        **gaps,
    )


def gaze_to_sun_deg(setup: Setup) -> float:
    """Angle between the way the sitter looks and the key, for a key as far off as the sun."""
    key = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    lens = setup.lens_mm()
    ahead = rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)[:, 2]
    return _between_deg(lens / np.linalg.norm(lens) if setup.gaze == "lens" else ahead, key)


def lens_to_sun_deg(setup: Setup) -> float:
    """Angle between the way the lens looks and the key, for a key as far off as the sun."""
    key = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    lens = setup.lens_mm()
    return _between_deg(-lens / np.linalg.norm(lens), key)


def _between_deg(a: Floats, b: Floats) -> float:
    return math.degrees(math.acos(min(max(float(a @ b), -1.0), 1.0)))


def _wrapped(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


def _track(
    place: Place,
    moments: list[datetime],
    pressure_hpa: float,
    temperature_c: float,
    delta_t_s: float,
) -> list[Sun]:
    try:
        from pvlib.spa import solar_position
    except ImportError as missing:
        raise PlaceError(
            tr(
                "The sun's place needs the library pvlib, which is not installed; install "
                "Sitwell with its extra 'sun'.",
            )
        ) from missing
    _, _, elevations, _, bearings, _ = solar_position(
        np.array([when.timestamp() for when in moments]),
        place.latitude_deg,
        place.longitude_deg,
        place.altitude_m,
        pressure_hpa,
        temperature_c,
        delta_t_s,
        REFRACTION_DEG,
    )
    return [
        Sun(when=when, bearing_deg=float(bearing), elevation_deg=float(elevation))
        for when, bearing, elevation in zip(moments, bearings, elevations, strict=True)
    ]
