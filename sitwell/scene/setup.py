"""The set-up: every quantity that is chosen for one picture, in one frozen value.

Angles are studio angles (against level and against the vertical plane through the lens); see
docs/glossary.md for signs. Where the lens stands off the eye line, what the picture shows differs
from what the sitter does: ``seen_pose_deg`` gives that.
"""

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sitwell.base.errors import SetupError
from sitwell.base.words import tr
from sitwell.brief.exif import F_NUMBER_RANGE, FOCAL_RANGE_MM, SENSOR_RANGE_MM

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# The records know set-ups, and their commands start without numpy: it comes where it is used.

FRAMINGS = (
    "tight-head",
    "head-and-shoulders",
    "half-length",
    "three-quarter-length",
    "full-length",
)
CROPS = ("whole-head", "into-forehead")
ASPECTS = ("2:3", "3:4", "4:5", "1:1", "5:7", "16:9")
ID_ASPECT = "7:9"  # 35 x 45 mm, an identity picture's: taken, and warned of, but not offered
GAZES = ("lens", "ahead")
SWITCHES = ("off", "on")
_CHOICES = {
    "framing": FRAMINGS,
    "crop": CROPS,
    "aspect": (*ASPECTS, ID_ASPECT),
    "gaze": GAZES,
    "rim": SWITCHES,
    "background_light": SWITCHES,
}
_LENGTHS = (
    "distance_mm",
    "focal_mm",
    "f_number",
    "key_distance_mm",
    "key_size_mm",
    "rim_distance_mm",
    "rim_size_mm",
    "background_light_distance_mm",
)
# What may be held or read from a plan file: wide, and past all that a studio or a street has; the
# lens and its f-number as in EXIF (design choices).
_LAMP_MM, _LAMP_SIZE_MM, _HEIGHT_DEG = (50.0, 1e7), (1.0, 1e6), (-90.0, 90.0)
RANGES: Mapping[str, tuple[float, float]] = {
    "turn_deg": (-90.0, 90.0),
    "chin_deg": (-60.0, 60.0),
    "tilt_deg": (-60.0, 60.0),
    "chin_forward_mm": (-100.0, 100.0),
    "camera_height_mm": (-5000.0, 5000.0),
    "distance_mm": (200.0, 100_000.0),
    "focal_mm": FOCAL_RANGE_MM,
    "f_number": F_NUMBER_RANGE,
    "sensor_width_mm": SENSOR_RANGE_MM,
    "sensor_height_mm": SENSOR_RANGE_MM,
    "key_azimuth_deg": (-180.0, 180.0),
    "key_elevation_deg": _HEIGHT_DEG,
    "key_distance_mm": _LAMP_MM,
    "key_size_mm": _LAMP_SIZE_MM,
    "fill_ratio": (1.0, 1000.0),
    "background_stops": (-20.0, 10.0),
    "background_distance_mm": (0.0, 1e7),
    "rim_azimuth_deg": (-180.0, 180.0),
    "rim_elevation_deg": _HEIGHT_DEG,
    "rim_distance_mm": _LAMP_MM,
    "rim_size_mm": _LAMP_SIZE_MM,
    "rim_stops": (-10.0, 10.0),
    "background_light_distance_mm": _LAMP_MM,
}
LEAST_RIM_DEG = 100.0  # nearer to the front a light models the face: a second key


def refuse_beyond(name: str, value: float) -> None:
    """Refuse a quantity outside its range, or one that is no number; SetupError names both."""
    low, high = RANGES[name]
    if not low <= value <= high:
        raise SetupError(
            tr(
                "{name} is {value}; give a number from {low} to {high}.",
                name=name,
                value=f"{value:g}",
                low=f"{low:g}",
                high=f"{high:g}",
            )
        )


def refuse_unknown(name: str, value: str) -> None:
    """Refuse a choice that is not known; SetupError lists those that are."""
    if value not in _CHOICES[name]:
        raise SetupError(
            tr(
                "The {name} '{value}' is not known; choose one of {known}.",
                name=name,
                value=value,
                known=", ".join(_CHOICES[name]),
            )
        )


def moved_eyes_mm(
    rotation: "NDArray[np.floating]",
    neck_pivot_mm: "NDArray[np.floating]",
    chin_forward_mm: float,
) -> "NDArray[np.float64]":
    """Where the eyes' midpoint (3,) comes to lie in the studio when a head turns about its neck."""
    import numpy as np

    pivot_mm = np.asarray(neck_pivot_mm, dtype=np.float64)
    forward_mm = np.array([0.0, 0.0, chin_forward_mm])
    return np.asarray(pivot_mm + forward_mm - rotation @ pivot_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One set-up; lengths in millimetres, angles in degrees, light in stops or as a ratio.

    ``distance_mm`` is the straight line from the lens to the sitter's neutral eye midpoint.
    ``fill_ratio`` is additive: key plus fill on the lit side over fill alone on the shade side.
    ``background_stops`` is the background's luminance against the lit cheek, 0 = as bright.
    ``gaze`` "lens" has the eyes look into the lens as far as eyes go, "ahead" leaves them.

    ``rim`` "on" has a light behind the sitter at ``rim_azimuth_deg``, counted as the key's and
    beyond 100 to either side. ``rim_stops`` is what it alone gives skin that faces it squarely at
    the eyes, against the lit cheek, 0 = as bright. ``background_light`` "on" has a lamp, so far
    from the background, give what the key's spill lacks there; it lights nothing else.
    """

    turn_deg: float = 0.0
    chin_deg: float = 0.0
    tilt_deg: float = 0.0
    chin_forward_mm: float = 0.0
    camera_height_mm: float = 0.0
    distance_mm: float = 2000.0
    focal_mm: float = 85.0
    f_number: float = 4.0
    sensor_width_mm: float = 36.0
    sensor_height_mm: float = 24.0
    key_azimuth_deg: float = 35.0
    key_elevation_deg: float = 30.0
    key_distance_mm: float = 1500.0
    key_size_mm: float = 900.0
    fill_ratio: float = 3.0
    background_stops: float = -1.5
    background_distance_mm: float = 2000.0
    framing: str = "head-and-shoulders"
    crop: str = "whole-head"
    aspect: str = "4:5"
    gaze: str = "lens"
    rim: str = "off"
    rim_azimuth_deg: float = 140.0
    rim_elevation_deg: float = 35.0
    rim_distance_mm: float = 1500.0
    rim_size_mm: float = 300.0
    rim_stops: float = 0.0
    background_light: str = "off"
    background_light_distance_mm: float = 1000.0

    def __post_init__(self) -> None:
        """Refuse a set-up that can't stand in the studio."""
        for name in _LENGTHS:
            if not getattr(self, name) > 0:
                raise SetupError(
                    tr(
                        "{name} is {value}; give a value above zero.",
                        name=name,
                        value=f"{getattr(self, name):g}",
                    )
                )
        if abs(self.camera_height_mm) >= self.distance_mm:
            raise SetupError(
                tr(
                    "camera_height_mm {camera_height_mm} can't reach past distance_mm "
                    "{distance_mm}; move the camera back or nearer the eye line.",
                    camera_height_mm=f"{self.camera_height_mm:g}",
                    distance_mm=f"{self.distance_mm:g}",
                )
            )
        if self.fill_ratio < 1:
            raise SetupError(
                tr(
                    "fill_ratio is {fill_ratio}; it counts key plus fill against fill, so give "
                    "1 (no shade) or more.",
                    fill_ratio=f"{self.fill_ratio:g}",
                )
            )
        if not LEAST_RIM_DEG <= abs(self.rim_azimuth_deg) <= 180.0:
            raise SetupError(
                tr(
                    "rim_azimuth_deg is {rim_azimuth_deg}; a rim light stands behind the "
                    "sitter, so give 100 to 180 for camera right or -180 to -100 for camera "
                    "left.",
                    rim_azimuth_deg=f"{self.rim_azimuth_deg:g}",
                )
            )
        for name in _CHOICES:
            refuse_unknown(name, getattr(self, name))
        for name in RANGES:
            if not math.isfinite(getattr(self, name)):
                refuse_beyond(name, getattr(self, name))

    def lens_mm(self) -> "NDArray[np.float64]":
        """Where the lens stands in the studio frame, (3,)."""
        import numpy as np

        level_mm = math.sqrt(self.distance_mm**2 - self.camera_height_mm**2)
        return np.array([0.0, self.camera_height_mm, level_mm])

    def seen_pose_deg(
        self, neck_pivot_mm: "NDArray[np.floating] | None" = None
    ) -> tuple[float, float, float]:
        """Turn, chin and tilt as the picture shows them, against the line of sight.

        With the head's own ``neck_pivot_mm`` (3,) the line of sight ends where the eyes come to
        lie, without it where they were before the head turned: at 1 m a turn of 24 degrees then
        reads two degrees less.
        """
        import numpy as np

        from sitwell.base.rotations import rotation_from_pose, seen_pose

        rotation = rotation_from_pose(self.turn_deg, self.chin_deg, self.tilt_deg)
        eyes_mm = np.zeros(3)
        if neck_pivot_mm is not None:
            eyes_mm = moved_eyes_mm(rotation, neck_pivot_mm, self.chin_forward_mm)
        return seen_pose(rotation, self.lens_mm(), eyes_mm)

    def with_changes(self, **changes: Any) -> "Setup":
        """The same set-up with some quantities changed."""
        return dataclasses.replace(self, **changes)

    def as_dict(self) -> dict[str, float | str]:
        """Plain mapping for JSON: every quantity by its name, and the seen pose beside it."""
        seen_turn_deg, seen_chin_deg, seen_tilt_deg = self.seen_pose_deg()
        return dataclasses.asdict(self) | {
            "seen_turn_deg": seen_turn_deg,
            "seen_chin_deg": seen_chin_deg,
            "seen_tilt_deg": seen_tilt_deg,
        }


def refuse_out_of_range(setup: Setup) -> None:
    """Refuse a set-up with a quantity outside its range; SetupError names it."""
    for name in RANGES:
        refuse_beyond(name, getattr(setup, name))
