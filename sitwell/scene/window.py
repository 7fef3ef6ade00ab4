"""A window as the key: even light from a rectangle that stands where it stands.

The window is taken to show even, matte sky over its whole opening (an overcast day, or a net
curtain), so that its light at a place is that of a rectangle, by its exact configuration factor.
No sun comes in. The sitter and the camera move instead of the light, on one side of its wall.
"""

import math
from dataclasses import dataclass

from sitwell.base.errors import RoomError
from sitwell.base.words import tr
from sitwell.brief.place_light import Window
from sitwell.brief.room import Room
from sitwell.scene.setup import Setup

BODY_MM = 400.0  # a photographer behind the camera needs so much before a wall (design choice)
HALF_BODY_MM = 250.0  # and is half so wide


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where sitter and camera go, in mm: the sitter's eyes straight before the window's middle.

    ``from_window_mm`` is square off the wall to the eyes, ``camera_from_wall_mm`` the same to the
    lens, and ``camera_aside_mm`` how far along the wall the lens stands from the sitter.
    """

    from_window_mm: float
    camera_from_wall_mm: float
    camera_aside_mm: float

    def clear_of_light_mm(self, window_size_mm: float) -> float:
        """How far the photographer keeps from the light's way to the sitter; negative = in it.

        That way narrows from the window's width to the sitter's eyes.
        """
        toward = (self.from_window_mm - self.camera_from_wall_mm) / self.from_window_mm
        beam_mm = 0.5 * window_size_mm * min(max(toward, 0.0), 1.0)
        return self.camera_aside_mm - beam_mm - HALF_BODY_MM


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


def stand_by(setup: Setup) -> Stand:
    """Where sitter and camera stand in a room for a set-up whose key is a window."""
    from_window_mm = setup.key_distance_mm * math.cos(math.radians(setup.key_elevation_deg))
    level_mm = math.sqrt(setup.distance_mm**2 - setup.camera_height_mm**2)
    round_rad = math.radians(setup.key_azimuth_deg)
    return Stand(
        from_window_mm=from_window_mm,
        camera_from_wall_mm=from_window_mm - level_mm * math.cos(round_rad),
        camera_aside_mm=level_mm * abs(math.sin(round_rad)),
    )


def elevation_at_deg(rise_mm: float, distance_mm: float) -> float:
    """How high a window stands whose middle is ``rise_mm`` above the eyes, so far away."""
    return math.degrees(math.asin(min(max(rise_mm / distance_mm, -0.9), 0.9)))


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
            tr(
                "The reflectance {reflectance} is not that of a wall; give a share between 0 "
                "and 1.",
                reflectance=f"{reflectance:g}",
            )
        )
    length, width, height = room.depth_mm, room.width_mm, room.ceiling_mm
    surface = 2.0 * (length * width + length * height + width * height)
    spread = window.area_mm2 * reflectance / (surface * (1.0 - reflectance))
    return 1.0 + sky_share(window, from_window_mm) / spread


def room_ratio(size_mm: float, setup: Setup, room: Room) -> float:
    """The same for a key of a size in a set-up, its window taken as square."""
    side_mm = 0.5 * math.sqrt(math.pi) * size_mm
    window = Window(width_mm=side_mm, height_mm=side_mm)
    return room_fill_ratio(window, stand_by(setup).from_window_mm, room)


def _quarter(x: float, y: float) -> float:
    """Configuration factor to a rectangle x by y (in distances) with one corner straight ahead.

    Odd in both, so that quarters add up with their signs; any radiative heat transfer text.
    """
    root_x, root_y = math.sqrt(1.0 + x * x), math.sqrt(1.0 + y * y)
    return (x / root_x * math.atan(y / root_x) + y / root_y * math.atan(x / root_y)) / (
        2.0 * math.pi
    )
