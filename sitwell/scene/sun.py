"""The sun as the key: where it stands, when it stands where a set-up wants it, which way to face.

Bearings are compass degrees, clockwise from true north; a camera's bearing is the way it looks, so
that its right is 90 degrees on. Needs pvlib (the extra ``sun``), which follows Reda and Andreas
2004 with refraction. Nothing here knows of clouds, houses or trees.
"""

import math
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import PlaceError
from sitwell.base.rotations import direction_from_angles, rotation_from_pose
from sitwell.brief.kit import LightSource
from sitwell.scene.setup import Setup

DIAMETER_DEG = 0.533  # mean, from memory
STAND_IN_MM = 10_000.0  # a key this far off, of the sun's apparent size, stands for the sun
EXPOSURE_VALUE = 14.6  # clear sun at ISO 100: f/16 at 1/100 s (common practice, no source)
REFRACTION_DEG = 0.5667  # at the horizon, as in Reda and Andreas's example
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
                f"The latitude {self.latitude_deg:g} is no place on earth; give -90 (south) to 90."
            )
        if not -180 <= self.longitude_deg <= 180:
            raise PlaceError(
                f"The longitude {self.longitude_deg:g} is no place on earth; give -180 (west) "
                "to 180."
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

    ``off_deg`` is how far it is off at best, ``camera_bearing_deg`` the way to look then.
    """

    start: datetime
    end: datetime
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
            f"The time {when:%Y-%m-%d %H:%M} names no time zone; add one, such as +01:00."
        )
    return _track(place, [when], pressure_hpa, temperature_c, delta_t_s)[0]


def sun_over(place: Place, day: date, zone: Any) -> list[Sun]:
    """The sun at every minute of a day in a time zone (a tzinfo)."""
    start = datetime.combine(day, time(), tzinfo=zone)
    minutes = int(timedelta(days=1) / STEP)
    return _track(place, [start + i * STEP for i in range(minutes)], 1013.25, 12.0, 67.0)


def key_from_sun_deg(sun: Sun, camera_bearing_deg: float) -> tuple[float, float]:
    """Azimuth and elevation of the sun as a set-up's key, for a camera that looks that way."""
    return _wrapped(camera_bearing_deg + 180.0 - sun.bearing_deg), sun.elevation_deg


def camera_bearing_for(sun: Sun, setup: Setup) -> float:
    """The way (0..360) in which the camera must look for the sun to be at the set-up's key."""
    return (sun.bearing_deg - 180.0 + setup.key_azimuth_deg) % 360.0


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
    wanted = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)

    def off(sun: Sun) -> float:
        if camera_bearing_deg is None:
            return abs(sun.elevation_deg - setup.key_elevation_deg)
        return _between_deg(
            wanted, direction_from_angles(*key_from_sun_deg(sun, camera_bearing_deg))
        )

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
                    start=track[first].when,
                    end=track[index - 1].when,
                    best=track[best],
                    off_deg=offs[best],
                    camera_bearing_deg=camera_bearing_for(track[best], setup)
                    if bearing is None
                    else bearing,
                )
            )
            first = None
    return found


def highest(track: list[Sun]) -> Sun:
    """The sun at its highest."""
    return max(track, key=lambda sun: sun.elevation_deg)


def under_the_sun(setup: Setup, sun: Sun, camera_bearing_deg: float) -> Setup:
    """The set-up with the sun as its key: its direction, its size, no falloff worth the name."""
    azimuth_deg, elevation_deg = key_from_sun_deg(sun, camera_bearing_deg)
    return setup.with_changes(
        key_azimuth_deg=azimuth_deg,
        key_elevation_deg=elevation_deg,
        key_distance_mm=STAND_IN_MM,
        key_size_mm=_stand_in_size_mm(),
    )


def sun_as_light(sun: Sun) -> LightSource:
    """The sun as a light to plan with: its height is given, sitter and camera go round under it."""
    return LightSource(
        name="sun",
        size_mm=_stand_in_size_mm(),
        distance_mm=(STAND_IN_MM, STAND_IN_MM),
        azimuth_deg=(-90.0, 90.0),
        elevation_deg=(sun.elevation_deg, sun.elevation_deg),
        exposure_value=EXPOSURE_VALUE,
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


def _stand_in_size_mm() -> float:
    return 2.0 * STAND_IN_MM * math.tan(math.radians(0.5 * DIAMETER_DEG))


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
            "The sun's place needs the library pvlib, which is not installed; install Sitwell with "
            "its extra 'sun'."
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
