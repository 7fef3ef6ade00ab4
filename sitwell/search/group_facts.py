"""Facts of a group that no single sitter's picture shows, and the guards on them.

Limits are design choices.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from sitwell.base.rotations import camera_axes
from sitwell.base.words import tr
from sitwell.brief.kit import Camera, LightSource
from sitwell.brief.room import Room
from sitwell.scene.lens import blur_disc_mm, circle_of_confusion_mm
from sitwell.scene.rim import CLEAR_DEG, rim_margin_deg
from sitwell.search.group import GroupSetup, Vector
from sitwell.search.group_words import GROUP_GUARD_SENTENCES
from sitwell.search.guards import Guard, Guards
from sitwell.search.lamps import rim_in_room_mm

FACT_NAMES = (
    "eyes_blur_coc",
    "view_clear_mm",
    "light_clear_mm",
    "light_uneven_stops",
    "size_ratio",
    "key_inside_walls_mm",
    "key_out_of_picture_mm",
    "rim_off_lens_deg",
    "rim_in_room_mm",
    "height_step",
)
HEAD_CENTRE_MM = np.array([0.0, -10.0, -85.0])
COVER_MM = 160.0  # two half heads
SHADE_MM = 150.0  # half a head, and half a shadow's soft edge
UNEVEN_STOPS = 0.7
LARGER = 1.1


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupGuard(Guard):
    """A limit that the group must keep together."""

    @property
    def sentence(self) -> str:
        """What happens when it breaks, in plain words."""
        return tr(GROUP_GUARD_SENTENCES[self.name])


def group_guards(room: Room) -> Guards:
    """What a group must keep together."""

    def most(name: str, measure: str, limit: float, scale: float) -> GroupGuard:
        return GroupGuard(name=name, measure=measure, limit=limit, must_be="at most", scale=scale)

    def least(name: str, measure: str, limit: float, scale: float) -> GroupGuard:
        return GroupGuard(name=name, measure=measure, limit=limit, must_be="at least", scale=scale)

    return Guards(
        (
            most("everyone sharp", "eyes_blur_coc", 1.0, 0.5),
            least("nobody covered", "view_clear_mm", COVER_MM, 50.0),
            least("nobody shaded", "light_clear_mm", SHADE_MM, 50.0),
            most("even light", "light_uneven_stops", UNEVEN_STOPS, 0.3),
            most("even size", "size_ratio", LARGER, 0.05),
            least("walls", "key_inside_walls_mm", 0.0, 100.0),
            least("key out of picture", "key_out_of_picture_mm", 20.0, 100.0),
            least("rim light off lens", "rim_off_lens_deg", CLEAR_DEG - 1.0, 2.0),
            least("rim light in room", "rim_in_room_mm", 0.0, 100.0),
        ),
        FACT_NAMES,
    )


def group_facts(
    setup: GroupSetup,
    light: LightSource,
    room: Room,
    camera: Camera,
    eyes_above_floor_mm: Sequence[float],
) -> Vector:
    """The facts in the order of ``FACT_NAMES``; a light that can't be moved is always clear."""
    shared, key = setup.shared, setup.key_mm()
    lens = shared.lens_mm()
    eyes = np.array([place.eyes_mm for place in setup.places])
    to_lens = np.linalg.norm(eyes - lens, axis=1)
    to_key = np.linalg.norm(eyes - key, axis=1)
    fixed = light.is_fixed()
    half_mm = shared.key_size_mm / 2.0
    return np.array(
        [
            _eyes_blur_coc(setup, camera, float(to_lens.min()), float(to_lens.max())),
            _clearance(eyes, lens),
            _clearance(eyes, key),
            0.0 if fixed else 2.0 * math.log2(to_key.max() / to_key.min()),
            float(to_lens.max() / to_lens.min()),
            math.inf if fixed else room.width_mm / 2.0 - abs(float(key[0])) - half_mm,
            math.inf if fixed else _out_of_picture_mm(setup, lens, key, half_mm),
            math.inf if shared.rim == "off" else rim_margin_deg(shared),
            rim_in_room_mm(shared, room, eyes_mm_of(setup, eyes_above_floor_mm)),
            height_step(setup),
        ]
    )


def eyes_mm_of(setup: GroupSetup, eyes_above_floor_mm: Sequence[float]) -> float:
    """How high the group's middle is above the floor, boxes and all."""
    boxes = (place.box_mm for place in setup.places)
    return float(
        np.mean([eyes + box for eyes, box in zip(eyes_above_floor_mm, boxes, strict=True)])
    )


def height_step(setup: GroupSetup) -> float:
    """How far the highest eyes stand above the lowest in the picture, in usual face heights.

    A face of 185 mm (hairline to chin) at the group's distance is the unit.
    """
    lens = setup.shared.lens_mm()
    axes = camera_axes(lens, [0.0, 0.0, 0.0])
    seen = np.array([axes @ (place.eyes_mm - lens) for place in setup.places])
    up = seen[:, 1] / -seen[:, 2]
    return float(np.ptp(up)) * setup.shared.distance_mm / 185.0


def _eyes_blur_coc(setup: GroupSetup, camera: Camera, near_mm: float, far_mm: float) -> float:
    """Blur of the nearest and farthest eyes, focused where both blur alike, in circles."""
    focus_mm = 2.0 * near_mm * far_mm / (near_mm + far_mm)
    shared = setup.shared
    circle_mm = circle_of_confusion_mm(camera.sensor_width_mm, camera.sensor_height_mm)
    return blur_disc_mm(shared.focal_mm, shared.f_number, focus_mm, far_mm) / circle_mm


def _clearance(eyes: Vector, source: Vector) -> float:
    """How far any head's middle keeps from the way between the source and another one, mm."""
    heads = eyes + HEAD_CENTRE_MM
    least = math.inf
    for one, other in permutations(range(len(heads)), 2):
        way = source - heads[other]
        share = float((heads[one] - heads[other]) @ way / (way @ way))
        if share > 0.0:
            nearest = heads[other] + min(share, 1.0) * way
            least = min(least, float(np.linalg.norm(heads[one] - nearest)))
    return least


def _out_of_picture_mm(setup: GroupSetup, lens: Vector, key: Vector, half_mm: float) -> float:
    """How far the key's edge keeps from the picture's, measured at the key; inf beside the lens."""
    shared = setup.shared
    across_mm, up_mm, behind_mm = camera_axes(lens, [0.0, 0.0, 0.0]) @ (key - lens)
    if behind_mm > -half_mm:
        return math.inf
    depth = -behind_mm / shared.distance_mm
    _, top_mm, width_mm, _ = (depth * length for length in setup.picture_mm())
    side_mm = width_mm / 2.0
    return float(max(up_mm - half_mm - top_mm, abs(across_mm) - half_mm - side_mm))
