"""The moves a set-up is made of: natural steps, what a person can set, and what each one costs.

A natural step is the smallest change worth a word to the sitter (trade: a touch, a
little) or a turn of the hand at a stand; the steps of light and camera are design choices. A
move's coordinate is its value, save for the f-number, which is searched in stops.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sitwell.scene.setup import Setup

# Nominal third-stop f-numbers as engraved and displayed (ISO 517 names the whole stops).
NOMINAL_F = (
    *(1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6),
    *(6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move: its set-up key, natural step, the grid it can be set on, its cost a step."""

    name: str
    step: float
    grid: float
    effort: float

    def coordinate(self, value: float) -> float:
        """Where a value lies on the searched axis."""
        return 2.0 * math.log2(value) if self.name == "f_number" else value

    def value(self, coordinate: float) -> float:
        """The value at a coordinate."""
        return 2.0 ** (coordinate / 2.0) if self.name == "f_number" else coordinate

    def snapped(self, value: float, low: float, high: float) -> float:
        """The nearest value a person can set inside low..high; a bound itself may be set."""
        if self.name == "f_number":
            inside = [f for f in NOMINAL_F if 0.995 * low <= f <= 1.005 * high] or [float(low)]
            return min(inside, key=lambda f: abs(math.log(f / value)))
        rounded = round(value / self.grid) * self.grid
        return float(min(max(rounded, low), high)) + 0.0  # a plan holds plain numbers


# Effort weighs a step for the sitter most, for the camera less, for a dial least.
MOVES = (
    Move(name="turn_deg", step=7.0, grid=1.0, effort=1.0),
    Move(name="chin_deg", step=3.0, grid=1.0, effort=1.0),
    Move(name="tilt_deg", step=3.0, grid=1.0, effort=1.0),
    Move(name="chin_forward_mm", step=10.0, grid=5.0, effort=1.0),
    Move(name="camera_height_mm", step=100.0, grid=10.0, effort=0.8),
    Move(name="f_number", step=1.0, grid=1.0 / 3.0, effort=0.2),
    Move(name="key_azimuth_deg", step=15.0, grid=5.0, effort=0.4),
    Move(name="key_elevation_deg", step=10.0, grid=5.0, effort=0.4),
    Move(name="key_distance_mm", step=300.0, grid=100.0, effort=0.4),
    Move(name="fill_ratio", step=1.0, grid=0.5, effort=0.3),
    Move(name="background_stops", step=1.0, grid=0.5, effort=0.3),
)
MOVE_BY_NAME: Mapping[str, Move] = {move.name: move for move in MOVES}
POSE_MOVES = ("turn_deg", "chin_deg", "tilt_deg", "chin_forward_mm")
# Choices that are not sliders: another lens, another crop, another light, each a step of effort.
CHOICE_EFFORT: Mapping[str, float] = {"focal_mm": 0.8, "crop": 0.5, "key_size_mm": 0.5}


def steps_between(first: Setup, second: Setup) -> dict[str, float]:
    """How many natural steps each move of the second set-up is from the first, signed."""
    return {
        move.name: (
            move.coordinate(getattr(second, move.name)) - move.coordinate(getattr(first, move.name))
        )
        / move.step
        for move in MOVES
    }


def choices_between(first: Setup, second: Setup) -> tuple[str, ...]:
    """Which of the choices differ: lens, crop, light."""
    return tuple(name for name in CHOICE_EFFORT if getattr(first, name) != getattr(second, name))
