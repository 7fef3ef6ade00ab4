"""Facts of the studio that no picture shows: clearances, and where the key stands by the face."""

import math

from sitwell.base.rotations import angles_from_direction, direction_from_angles, rotation_from_pose
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import Camera, Lens, LightSource
from sitwell.brief.room import Room
from sitwell.scene.setup import Setup

STUDIO_NAMES = (
    "seen_turn_deg",
    "key_beside_face_deg",
    "key_above_face_deg",
    "key_below_ceiling_mm",
    "key_inside_walls_mm",
    "key_above_floor_mm",
    "key_clear_of_lens_deg",
    "focus_clearance_mm",
    "equivalent_mm",
    "handheld_stops",
)


def studio_facts(
    setup: Setup, *, camera: Camera, lens: Lens, light: LightSource, room: Room, comfort: Comfort
) -> list[float]:
    """The facts in the order of ``STUDIO_NAMES``; a light that can't be moved is always clear.

    Clearances are millimetres or degrees, negative = it doesn't fit. ``key_beside_face_deg`` and
    ``key_above_face_deg`` are the key's angles in the turned head's own frame.
    """
    way = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    rotation = rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)
    beside_deg, above_deg = angles_from_direction(rotation.T @ way)
    return [
        setup.seen_pose_deg()[0],
        beside_deg,
        above_deg,
        *_key_clearances(setup, light, room, comfort),
        setup.distance_mm - lens.closest_focus_mm,
        camera.equivalent_mm(setup.focal_mm),
        _handheld_stops(setup, camera, light),
    ]


def _key_clearances(
    setup: Setup, light: LightSource, room: Room, comfort: Comfort
) -> tuple[float, float, float, float]:
    if light.is_fixed():
        return math.inf, math.inf, math.inf, math.inf
    way = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    key_mm, half_mm = setup.key_distance_mm * way, setup.key_size_mm / 2.0
    eyes_mm = comfort.eyes_above_floor_mm
    cosine = float(way @ setup.lens_mm()) / setup.distance_mm
    apart_deg = math.degrees(math.acos(min(1.0, max(-1.0, cosine))))
    radius_deg = math.degrees(math.atan2(half_mm, setup.key_distance_mm))
    behind_lens = setup.key_distance_mm > setup.distance_mm + 300.0
    return (
        room.ceiling_mm - eyes_mm - key_mm[1] - half_mm,
        room.width_mm / 2.0 - abs(key_mm[0]) - half_mm,
        eyes_mm + key_mm[1] - half_mm,
        math.inf if behind_lens else apart_deg - radius_deg,
    )


def _handheld_stops(setup: Setup, camera: Camera, light: LightSource) -> float:
    """Stops in hand over 1 / equivalent focal length at the highest ISO; inf for flash.

    APEX: Ev = log2(N^2 / t) at ISO 100; the shutter rule is common practice, no source.
    """
    if light.exposure_value is None:
        return math.inf
    ev = light.exposure_value + math.log2(camera.highest_iso / 100.0)
    shutter_per_s = 2.0**ev / setup.f_number**2
    return math.log2(shutter_per_s / camera.equivalent_mm(setup.focal_mm))
