"""A window as the key: even light from a rectangle that stands where it stands.

The window is taken to show even, matte sky over its whole opening (an overcast day, or a net
curtain), so that its light at a place is that of a rectangle, by its exact configuration factor.
No sun comes in. The sitter and the camera move instead of the light.
"""

import math
from dataclasses import dataclass

from sitwell.base.errors import RoomError
from sitwell.base.units import stops_from_ratio
from sitwell.brief.kit import LightSource
from sitwell.brief.room import Room
from sitwell.scene.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A window's opening; ``sill_mm`` is its lower edge above the floor."""

    width_mm: float
    height_mm: float
    sill_mm: float = 900.0

    def __post_init__(self) -> None:
        """Refuse a window that lets nothing in."""
        for name in ("width_mm", "height_mm"):
            if not getattr(self, name) > 0:
                raise RoomError(
                    f"The window's {name} is {getattr(self, name):g}; give a length above zero."
                )

    @property
    def middle_mm(self) -> float:
        """Height of its middle above the floor."""
        return self.sill_mm + 0.5 * self.height_mm

    @property
    def area_mm2(self) -> float:
        """Area of the opening."""
        return self.width_mm * self.height_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where sitter and camera go: the sitter's eyes before the window's middle, in mm and degrees.

    ``from_window_mm`` is square off the wall. Seen from above, ``camera_from_window_deg`` is the
    angle at the sitter between the window and the camera; the window is on the camera's right when
    positive.
    """

    from_window_mm: float
    camera_from_window_deg: float
    elevation_deg: float


def sky_share(
    window: Window, from_window_mm: float, aside_mm: float = 0.0, above_mm: float = 0.0
) -> float:
    """Light on skin square to the wall, as a share of what skin gets that sees sky all over.

    Exact: the configuration factor from a small patch to a parallel rectangle, as the signed sum
    over its four quarters. ``aside_mm`` and ``above_mm`` are the patch's place off the window's
    middle.
    """
    left, right = -0.5 * window.width_mm - aside_mm, 0.5 * window.width_mm - aside_mm
    low, high = -0.5 * window.height_mm - above_mm, 0.5 * window.height_mm - above_mm
    d = from_window_mm
    return (
        _quarter(right / d, high / d)
        - _quarter(left / d, high / d)
        - _quarter(right / d, low / d)
        + _quarter(left / d, low / d)
    )


def falloff_stops(window: Window, near_mm: float, far_mm: float) -> float:
    """Stops lost by going from ``near_mm`` to ``far_mm`` from the window, before its middle.

    Near a large window less than the two stops for each doubling that a small source loses.
    """
    return stops_from_ratio(sky_share(window, near_mm) / sky_share(window, far_mm))


def effective_size_mm(window: Window, eyes_above_floor_mm: float | None = None) -> float:
    """Diameter of the disc with the window's area: the key's size in a set-up.

    With ``eyes_above_floor_mm`` the part below the chin of a sitter, more than half a metre under
    the eyes, is left out: it lights the body.
    """
    low = window.sill_mm
    if eyes_above_floor_mm is not None:
        low = max(low, eyes_above_floor_mm - 500.0)
    height = max(window.sill_mm + window.height_mm - low, 0.0)
    return 2.0 * math.sqrt(window.width_mm * height / math.pi)


def stand_for(window: Window, setup: Setup, eyes_above_floor_mm: float, room: Room) -> Stand:
    """Where sitter and camera stand so that the window lights like the set-up's key.

    The window's height gives the elevation: the sitter goes nearer or farther for it, within the
    room and not nearer than half the window's width, where it lights from everywhere.
    """
    rise = window.middle_mm - eyes_above_floor_mm
    nearest, farthest = 0.5 * window.width_mm, max(room.depth_mm, 0.5 * window.width_mm)
    wanted = math.radians(setup.key_elevation_deg)
    if rise > 0.0 and wanted > 0.0:
        distance = min(max(rise / math.tan(wanted), nearest), farthest)
    else:
        distance = min(max(setup.key_distance_mm, nearest), farthest)
    return Stand(
        from_window_mm=distance,
        camera_from_window_deg=setup.key_azimuth_deg,
        elevation_deg=math.degrees(math.atan2(rise, distance)),
    )


def by_the_window(window: Window, setup: Setup, stand: Stand) -> Setup:
    """The set-up with the window as its key, sitter and camera standing there."""
    level = math.cos(math.radians(stand.elevation_deg))
    return setup.with_changes(
        key_azimuth_deg=stand.camera_from_window_deg,
        key_elevation_deg=stand.elevation_deg,
        key_distance_mm=stand.from_window_mm / level,
        key_size_mm=effective_size_mm(window),
    )


def window_as_light(
    window: Window, eyes_above_floor_mm: float, distance_mm: tuple[float, float]
) -> LightSource:
    """The window as a light to plan with: sitter and camera go round it, its height is given."""
    rise = window.middle_mm - eyes_above_floor_mm
    ends = sorted(math.degrees(math.atan2(rise, distance)) for distance in distance_mm)
    return LightSource(
        name="window",
        size_mm=effective_size_mm(window),
        distance_mm=distance_mm,
        azimuth_deg=(-90.0, 90.0),
        elevation_deg=(ends[0], ends[1]),
    )


def room_fill_ratio(
    window: Window, from_window_mm: float, room: Room, reflectance: float = 0.5
) -> float:
    """Lighting ratio (additive) that the room's own return of light gives, without a reflector.

    The room is taken as an integrating sphere: what comes in spreads evenly over walls, floor and
    ceiling of one mean ``reflectance``, 0.5 for light walls (common practice, no source). Real
    rooms are darker far from the window, so this is the least ratio to expect.
    """
    if not 0.0 < reflectance < 1.0:
        raise RoomError(
            f"The reflectance {reflectance:g} is not that of a wall; give a share between 0 and 1."
        )
    length, width, height = room.depth_mm, room.width_mm, room.ceiling_mm
    surface = 2.0 * (length * width + length * height + width * height)
    spread = window.area_mm2 * reflectance / (surface * (1.0 - reflectance))
    return 1.0 + sky_share(window, from_window_mm) / spread


def _quarter(x: float, y: float) -> float:
    """Configuration factor to a rectangle x by y (in distances) with one corner straight ahead.

    Odd in both, so that quarters add up with their signs; any radiative heat transfer text.
    """
    root_x, root_y = math.sqrt(1.0 + x * x), math.sqrt(1.0 + y * y)
    return (x / root_x * math.atan(y / root_x) + y / root_y * math.atan(x / root_y)) / (
        2.0 * math.pi
    )
