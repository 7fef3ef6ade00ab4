"""Facts of the studio that no picture shows: clearances, and where the key stands by the face."""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import (
    angles_from_direction,
    camera_axes,
    direction_from_angles,
    rotation_from_pose,
)
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import Camera, Lens, LightSource
from sitwell.brief.room import Room
from sitwell.scene.framing import FRAMINGS, aspect_ratio
from sitwell.scene.setup import Setup
from sitwell.scene.sun import gaze_to_sun_deg
from sitwell.scene.window import BODY_MM, stand_by
from sitwell.search.lamps import rim_in_room_mm

Vector = NDArray[np.float64]

# What a lens with its hood, and a person behind the camera, need beside the axis (design choices).
LENS_MM, PHOTOGRAPHER_MM = 200.0, 300.0
# How high the middle of a light's face can be put on a common stand (common practice, no source).
STAND_MM = (500.0, 2700.0)
# Of who sits: how far before the eyes the knees reach, and how high (design choices, generous).
KNEES_MM, LAP_MM = 700.0, 750.0
SITS_UNDER_MM = 1350.0  # of the eyes above the floor: whoever is lower sits
STUDIO_NAMES = (
    "seen_turn_deg",
    "seen_chin_deg",
    "key_beside_face_deg",
    "key_above_face_deg",
    "key_below_ceiling_mm",
    "key_inside_walls_mm",
    "key_above_floor_mm",
    "key_out_of_picture_mm",
    "key_clear_of_lens_mm",
    "key_on_stand_mm",
    "key_clear_of_knees_mm",
    "rim_in_room_mm",
    "camera_before_wall_mm",
    "camera_out_of_light_mm",
    "gaze_to_sun_deg",
    "focus_clearance_mm",
    "equivalent_mm",
    "handheld_stops",
)


def studio_facts(
    setup: Setup, *, camera: Camera, lens: Lens, light: LightSource, room: Room, comfort: Comfort
) -> list[float]:
    """The facts in the order of ``STUDIO_NAMES``; a light that can't be moved is always clear.

    Clearances are millimetres or degrees, negative = it doesn't fit. ``key_beside_face_deg`` and
    ``key_above_face_deg`` are the key's angles in the turned head's own frame. Whoever
    stands behind the camera needs room before a window's wall, and must not take its light; and the
    sun must not blind the sitter.
    """
    way = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    rotation = rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)
    beside_deg, above_deg = angles_from_direction(rotation.T @ way)
    return [
        *setup.seen_pose_deg()[:2],
        beside_deg,
        above_deg,
        *_key_clearances(setup, light, room, comfort),
        rim_in_room_mm(setup, room, comfort.eyes_above_floor_mm),
        *_room_by_window(setup, light),
        gaze_to_sun_deg(setup) if light.kind() == "sun" else math.inf,
        setup.distance_mm - lens.closest_focus_mm,
        camera.equivalent_mm(setup.focal_mm),
        _handheld_stops(setup, camera, light),
    ]


def _key_clearances(
    setup: Setup, light: LightSource, room: Room, comfort: Comfort
) -> tuple[float, ...]:
    if light.is_fixed() or light.kind() in ("sun", "shade"):
        return (math.inf,) * 7
    way = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    key_mm, half_mm = setup.key_distance_mm * way, setup.key_size_mm / 2.0
    if light.stays():
        out_mm = _out_of_picture_mm(setup, key_mm, half_mm)
        return math.inf, math.inf, math.inf, out_mm, math.inf, math.inf, math.inf
    eyes_mm = comfort.eyes_above_floor_mm
    return (
        room.ceiling_mm - eyes_mm - key_mm[1] - half_mm,
        room.width_mm / 2.0 - abs(key_mm[0]) - half_mm,
        eyes_mm + key_mm[1] - half_mm,
        _out_of_picture_mm(setup, key_mm, half_mm),
        _clear_of_lens_mm(setup, key_mm, half_mm),
        min(STAND_MM[1] - eyes_mm - key_mm[1], eyes_mm + key_mm[1] - STAND_MM[0]),
        _clear_of_knees_mm(key_mm, half_mm, eyes_mm),
    )


def _clear_of_knees_mm(key_mm: Vector, half_mm: float, eyes_mm: float) -> float:
    """How far the key's edge keeps before or above the knees of who sits; inf for who stands."""
    if eyes_mm > SITS_UNDER_MM:
        return math.inf
    before_mm = float(np.hypot(key_mm[0], key_mm[2])) - KNEES_MM
    above_mm = eyes_mm + float(key_mm[1]) - half_mm - LAP_MM
    return max(before_mm, above_mm)


def _room_by_window(setup: Setup, light: LightSource) -> tuple[float, float]:
    """What the photographer has before the window's wall, and beside the light's way.

    Of a window that is seen from one camera only, the photographer has chosen the camera's place.
    """
    if light.daylight != "window":
        return math.inf, math.inf
    stand = stand_by(setup)
    return stand.camera_from_wall_mm - BODY_MM, stand.clear_of_light_mm(setup.key_size_mm)


def _out_of_picture_mm(setup: Setup, key_mm: Vector, half_mm: float) -> float:
    """How far the key's edge keeps from the picture's, measured at the key; inf beside the lens.

    The picture is that of the framing, its eye line where the framing puts it.
    """
    lens_mm, framing = setup.lens_mm(), FRAMINGS[setup.framing]
    across_mm, up_mm, behind_mm = camera_axes(lens_mm, [0.0, 0.0, 0.0]) @ (key_mm - lens_mm)
    if behind_mm > -half_mm:
        return math.inf
    share = -behind_mm / setup.distance_mm
    top_mm = framing.eye_line_share * framing.height_mm * share
    side_mm = framing.height_mm / aspect_ratio(setup.aspect) / 2.0 * share
    return float(max(up_mm - half_mm - top_mm, abs(across_mm) - half_mm - side_mm))


def _clear_of_lens_mm(setup: Setup, key_mm: Vector, half_mm: float) -> float:
    """Room between the key's disc and the lens's axis, less what camera or photographer need.

    The disc faces the sitter; where the axis passes its plane before the lens, the lens looks by
    it, and behind the lens somebody stands. inf for a key well before the camera or behind the
    sitter.
    """
    lens_mm, reach_mm = setup.lens_mm(), float(np.linalg.norm(key_mm))
    axis = lens_mm / setup.distance_mm
    along = float(axis @ key_mm) / reach_mm
    if along <= 0.05:  # beside the sitter or behind: the planes never meet within a studio
        return math.inf
    crossing_mm = reach_mm / along
    if crossing_mm < setup.distance_mm / 2.0:
        return math.inf
    needs_mm = LENS_MM if crossing_mm <= setup.distance_mm else PHOTOGRAPHER_MM
    return float(np.linalg.norm(crossing_mm * axis - key_mm)) - half_mm - needs_mm


def _handheld_stops(setup: Setup, camera: Camera, light: LightSource) -> float:
    """Stops in hand over 1 / equivalent focal length at the highest ISO; inf for flash.

    APEX: Ev = log2(N^2 / t) at ISO 100; the shutter rule is common practice, no source.
    """
    if light.exposure_value is None:
        return math.inf
    ev = light.exposure_value + math.log2(camera.highest_iso / 100.0)
    shutter_per_s = 2.0**ev / setup.f_number**2
    return math.log2(shutter_per_s / camera.equivalent_mm(setup.focal_mm))
