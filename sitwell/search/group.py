"""Several sitters before one camera and one key: where each stands, and what each is shown as.

The group's frame is the studio frame with its origin at the mean of the eye midpoints: +X camera
right, +Y up, +Z from the group to the lens. A sitter's own set-up is the group's as it stands from
their place, in their own studio frame, so that everything that serves one sitter (measures, words,
pictures) serves each of a group. A face off the middle is measured along its own line of sight;
the stretch that a wide lens gives it at the picture's edge is not counted.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import SetupError
from sitwell.base.rotations import (
    angles_from_direction,
    direction_from_angles,
    rotation_from_pose,
)
from sitwell.base.words import tr
from sitwell.scene.framing import FRAMINGS, picture_size_mm
from sitwell.scene.lens import image_distance_mm
from sitwell.scene.setup import LEAST_RIM_DEG, Setup
from sitwell.search.lamps import RIM_NAMES
from sitwell.search.moves import POSE_MOVES
from sitwell.search.plan import Conflict, GuardState, Leeway, Plan, PlannedSetup

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where one sitter's eyes are in the group's frame, mm, and what they stand on.

    ``forward_mm`` is how far they stand before the others; ``box_mm`` how high their box is.
    """

    x_mm: float
    y_mm: float
    z_mm: float
    forward_mm: float = 0.0
    box_mm: float = 0.0

    @property
    def eyes_mm(self) -> Vector:
        """The eye midpoint (3,)."""
        return np.array([self.x_mm, self.y_mm, self.z_mm])


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSetup:
    """One camera and one key (``shared``, its pose left at zero), places and poses of each sitter.

    ``poses`` hold turn_deg, chin_deg, tilt_deg and chin_forward_mm by name. ``lying`` says that the
    camera is held with its long side level.
    """

    shared: Setup
    places: tuple[Place, ...]
    poses: tuple[Mapping[str, float], ...]
    lying: bool = False

    def value(self, whose: int | None, name: str) -> float:
        """A quantity by name: one sitter's pose, or what is shared (None)."""
        return float(getattr(self.shared, name) if whose is None else self.poses[whose][name])

    def with_values(self, values: Mapping[tuple[int | None, str], float]) -> "GroupSetup":
        """The group with quantities changed, by whose they are and by name."""
        shared = {name: value for (whose, name), value in values.items() if whose is None}
        poses = [dict(pose) for pose in self.poses]
        for (whose, name), value in values.items():
            if whose is not None:
                poses[whose][name] = value
        changed = self.shared.with_changes(**shared) if shared else self.shared
        return replace(self, shared=changed, poses=tuple(poses))

    def bearing_deg(self, index: int) -> float:
        """How far a sitter's level way to the lens is turned from the group's, + camera right."""
        place, lens = self.places[index], self.shared.lens_mm()
        return math.degrees(math.atan2(lens[0] - place.x_mm, lens[2] - place.z_mm))

    def key_mm(self) -> Vector:
        """Where the key's face is in the group's frame (3,)."""
        shared = self.shared
        way = direction_from_angles(shared.key_azimuth_deg, shared.key_elevation_deg)
        return shared.key_distance_mm * way

    def own(self, index: int) -> Setup:
        """One sitter's own set-up.

        The key's light on them falls with the square of their own distance from it, so fill and
        background count against their own lit cheek.
        """
        shared, place = self.shared, self.places[index]
        if len(self.places) == 1:
            return shared.with_changes(**self.poses[index])
        turned = rotation_from_pose(self.bearing_deg(index), 0.0, 0.0)
        lens = turned.T @ (shared.lens_mm() - place.eyes_mm)
        key = turned.T @ (self.key_mm() - place.eyes_mm)
        azimuth_deg, elevation_deg = angles_from_direction(key)
        far = float(np.linalg.norm(key)) / shared.key_distance_mm
        return shared.with_changes(
            **self.poses[index],
            **self._own_rim(index, far),
            camera_height_mm=float(lens[1]),
            distance_mm=float(np.linalg.norm(lens)),
            key_azimuth_deg=azimuth_deg,
            key_elevation_deg=elevation_deg,
            key_distance_mm=float(np.linalg.norm(key)),
            fill_ratio=1.0 + (shared.fill_ratio - 1.0) / far**2,
            background_stops=shared.background_stops + 2.0 * math.log2(far),
            background_distance_mm=shared.background_distance_mm + place.z_mm,
        )

    def _own_rim(self, index: int, key_far: float) -> dict[str, float | str]:
        """The rim light as it stands from one sitter; beside them it is none."""
        shared = self.shared
        if shared.rim == "off":
            return {}
        turned = rotation_from_pose(self.bearing_deg(index), 0.0, 0.0)
        way = direction_from_angles(shared.rim_azimuth_deg, shared.rim_elevation_deg)
        rim = turned.T @ (shared.rim_distance_mm * way - self.places[index].eyes_mm)
        azimuth_deg, elevation_deg = angles_from_direction(rim)
        if abs(azimuth_deg) < LEAST_RIM_DEG:
            return {"rim": "off"}
        distance_mm = float(np.linalg.norm(rim))
        far = distance_mm / shared.rim_distance_mm
        return {
            "rim_azimuth_deg": azimuth_deg,
            "rim_elevation_deg": elevation_deg,
            "rim_distance_mm": distance_mm,
            "rim_stops": shared.rim_stops + 2.0 * math.log2(key_far / far),
        }

    def with_own(self, index: int, setup: Setup) -> "GroupSetup":
        """The group after one sitter's own set-up was changed: their pose, and all that is shared.

        The camera stays on the group's own line, as far from this sitter as asked. SetupError
        where it can't be that near.
        """
        place = self.places[index]
        level_mm = math.sqrt(setup.distance_mm**2 - setup.camera_height_mm**2)
        if level_mm <= abs(place.x_mm) + 1.0:
            raise SetupError(
                tr(
                    "distance_mm {distance_mm} brings the camera into the group; keep it "
                    "farther off than {least_mm} mm.",
                    distance_mm=f"{setup.distance_mm:g}",
                    least_mm=f"{abs(place.x_mm) + 1.0:.0f}",
                )
            )
        lens = np.array(
            [
                0.0,
                place.y_mm + setup.camera_height_mm,
                place.z_mm + math.sqrt(level_mm**2 - place.x_mm**2),
            ]
        )
        turned_deg = math.degrees(math.atan2(-place.x_mm, lens[2] - place.z_mm))
        way = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
        key = place.eyes_mm + rotation_from_pose(turned_deg, 0.0, 0.0) @ (
            setup.key_distance_mm * way
        )
        azimuth_deg, elevation_deg = angles_from_direction(key)
        far = setup.key_distance_mm / float(np.linalg.norm(key))
        shared = setup.with_changes(
            **dict.fromkeys(POSE_MOVES, 0.0),
            **{name: getattr(self.shared, name) for name in ("rim", *RIM_NAMES)},
            camera_height_mm=float(lens[1]),
            distance_mm=float(np.linalg.norm(lens)),
            key_azimuth_deg=azimuth_deg,
            key_elevation_deg=elevation_deg,
            key_distance_mm=float(np.linalg.norm(key)),
            fill_ratio=1.0 + (setup.fill_ratio - 1.0) * far**2,
            background_stops=setup.background_stops - 2.0 * math.log2(far),
            background_distance_mm=setup.background_distance_mm - place.z_mm,
        )
        poses = list(self.poses)
        poses[index] = {name: float(getattr(setup, name)) for name in POSE_MOVES}
        return replace(self, shared=shared, poses=tuple(poses))

    def picture_mm(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of the finished picture at the group's distance, mm.

        As wide as the lens holds; the top lies above the highest eyes as far as the framing puts
        it, and the foot is cut below the lowest as the framing has it.
        """
        shared = self.shared
        narrow, tall = picture_size_mm(shared)
        width, height = (tall, narrow) if self.lying else (narrow, tall)
        held = shared.distance_mm / image_distance_mm(shared.focal_mm, shared.distance_mm)
        framing = FRAMINGS[shared.framing]
        highest_mm = max(place.y_mm for place in self.places)
        lowest_mm = min(place.y_mm for place in self.places)
        cut_mm = framing.height_mm + highest_mm - lowest_mm
        top_mm = highest_mm + framing.eye_line_share * framing.height_mm
        across = [place.x_mm for place in self.places]
        middle_mm = (min(across) + max(across)) / 2.0
        return middle_mm - width * held / 2.0, top_mm, width * held, min(height * held, cut_mm)

    def window(self) -> tuple[float, float, float, float]:
        """The same as tangents at the lens: left, top, width and height."""
        left, top, wide, high = (part / self.shared.distance_mm for part in self.picture_mm())
        return left, top, wide, high

    def left_to_right(self) -> tuple[int, ...]:
        """The sitters from camera left to camera right."""
        return tuple(sorted(range(len(self.places)), key=lambda i: self.places[i].x_mm))


def setup_of_one(setup: Setup) -> GroupSetup:
    """A lone sitter's set-up as a group of one: their pose apart from what is shared."""
    return GroupSetup(
        shared=setup.with_changes(**dict.fromkeys(POSE_MOVES, 0.0)),
        places=(Place(x_mm=0.0, y_mm=0.0, z_mm=0.0),),
        poses=({name: float(getattr(setup, name)) for name in POSE_MOVES},),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedGroup:
    """One set-up for all: each sitter's own, what the group must keep, and how it may drift."""

    name: str
    setup: GroupSetup
    planned: tuple[PlannedSetup, ...]
    guards: tuple[GuardState, ...]
    leeway: tuple[Leeway, ...]
    height_step: float
    notes: tuple[str, ...] = ()

    @classmethod
    def of_one(cls, planned: PlannedSetup) -> "PlannedGroup":
        """A lone sitter's set-up."""
        return cls(
            name=planned.name,
            setup=setup_of_one(planned.setup),
            planned=(planned,),
            guards=(),
            leeway=tuple(row for row in planned.leeway if row.move not in POSE_MOVES),
            height_step=0.0,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupPlan:
    """The straight-on group, the set-ups in order of strength, and each sitter's part of them."""

    labels: tuple[str, ...]
    baseline: GroupSetup
    baseline_height_step: float
    setups: tuple[PlannedGroup, ...]
    parts: tuple[Plan, ...]
    conflicts: tuple[Conflict, ...] = ()
    notes: tuple[str, ...] = ()

    @classmethod
    def of_one(cls, plan: Plan, label: str = "") -> "GroupPlan":
        """A lone sitter's plan."""
        return cls(
            labels=(label,),
            baseline=setup_of_one(plan.baseline),
            baseline_height_step=0.0,
            setups=tuple(PlannedGroup.of_one(planned) for planned in plan.setups),
            parts=(plan,),
            conflicts=plan.conflicts,
            notes=plan.notes,
        )

    @property
    def is_of_one(self) -> bool:
        """Whether it is a lone sitter's."""
        return len(self.labels) == 1

    def with_setup(self, planned: PlannedGroup) -> "GroupPlan":
        """The plan with one set-up in the place of that of the same name, for all and for each."""
        at = [one.name for one in self.setups].index(planned.name)
        return replace(
            self,
            setups=(*self.setups[:at], planned, *self.setups[at + 1 :]),
            parts=tuple(
                replace(part, setups=(*part.setups[:at], own, *part.setups[at + 1 :]))
                for part, own in zip(self.parts, planned.planned, strict=True)
            ),
        )
