"""What each of the set-ups tries for, as judges for the solver: strong, measured, and plain.

Strong: the most benefit within the guards. Measured: the least effort that still reaches a given
benefit. Plain (no wish): a pleasant turn and light. All share the guards and a mild liking for
light that draws a face well: loop to Rembrandt, a catchlight in both eyes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.scene.setup import Setup
from sitwell.search.benefit import Benefit
from sitwell.search.differences import apart
from sitwell.search.guards import Guards
from sitwell.search.moves import CHOICE_EFFORT, MOVE_BY_NAME, MOVES, choices_between, steps_between
from sitwell.search.search_space import SearchSpace

Vector = NDArray[np.float64]

# A key beside and above the face by these much draws loop to Rembrandt light: "25-60 deg up,
# 20-50 deg aside", relative to the face (portraitlighting.net, read 2026; sources differ).
PLEASANT_BESIDE_DEG = (20.0, 50.0)
PLEASANT_ABOVE_DEG = (25.0, 60.0)
# About what a head shows at 1.3 m. Nearer portraits were judged less kindly by viewers (Bryan,
# Perona & Adolphs 2012, PLoS ONE 7(9):e45301: direction only, the number is ours).
PLEASANT_STRETCH = 1.11
# A longer lens from farther off before a short one from near (common practice, no source).
NEAR_MM, NEAR_PRICE = 1200.0, 3.0
PLEASANT_CHIN_DEG = (-5.0, 5.0)  # as seen: past it a view is from below or above (design choice)
EFFORT_PRICE = 0.12  # noticeable steps given for one natural step of effort, in the strong set-up
MEASURED_EFFORT_PRICE = 0.1  # the same in set-ups that spare effort
PLAIN_EFFORT_PRICE = 0.1  # added where no wish says what an effort is worth
LEAST_FLOOR = 0.1
PLEASANT_PRICE = 0.15  # the same for one unit of unpleasant light


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainLook:
    """A pleasant set-up without a wish: how far turned, and where the key stands by the face."""

    turn_deg: float
    beside_deg: float
    above_deg: float


# Design choices: nearly straight on with open loop light; a small turn; a larger one.
PLAIN_LOOKS = {
    "gentle": PlainLook(turn_deg=6.0, beside_deg=30.0, above_deg=30.0),
    "balanced": PlainLook(turn_deg=15.0, beside_deg=40.0, above_deg=33.0),
    "strong": PlainLook(turn_deg=28.0, beside_deg=45.0, above_deg=35.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What a judge asks for, of one sitter or several.

    ``floor`` is what each gain must reach (None: as much as possible in all), ``least`` what all
    together must, and ``most`` what they may, so that a lesser set-up is no second strong one.
    """

    floor: Vector | None = None
    least: float | None = None
    most: float | None = None
    plain: PlainLook | None = None

    def priced(
        self, gains: Vector, strain: float, look: float, unlike: float
    ) -> tuple[float, list[float]]:
        """Cost, and violations, of gains had for an effort.

        ``look`` is the price of unpleasant light, ``unlike`` how far from the plain look it is.
        """
        total, broken = float(gains.sum()), []
        if self.least is not None:
            broken.append((self.least - total) / max(self.least, LEAST_FLOOR))
        if self.most is not None:
            broken.append(total / self.most - 1.0)
        if self.floor is not None:
            broken += list((self.floor - gains) / np.maximum(np.abs(self.floor), LEAST_FLOOR))
        if self.floor is not None or self.least is not None:
            cost = strain + look / MEASURED_EFFORT_PRICE
        else:
            cost = EFFORT_PRICE * strain + look - total
        if self.plain is not None:
            cost += unlike + PLAIN_EFFORT_PRICE * strain
        return cost, broken


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal(Terms):
    """One judge of a lone sitter's places; ``beside``: a set-up whose sides must be shared."""

    space: SearchSpace
    benefit: Benefit
    guards: Guards
    baseline: Setup
    apart_from: Sequence[Setup] = ()
    beside: Setup | None = None

    def __call__(self, option: int, x: Vector, vector: Vector) -> tuple[float, Vector]:
        """Cost, and violations of the guards, of the floor and of staying apart."""
        setup = self.space.setup_at(option, x)
        cost, broken = self.priced(
            self.benefit.by_wish(vector),
            effort(self.baseline, setup),
            PLEASANT_PRICE * unpleasantness(self.space, vector),
            misfit(self.space, self.plain, vector) if self.plain else 0.0,
        )
        near = [1.0 - apart(setup, other) for other in self.apart_from]
        near += self.wrong_side(setup)
        return cost, np.concatenate([self.guards.violations(vector), near, broken])

    def wrong_side(self, setup: Setup) -> list[float]:
        """Natural steps by which turn and key lie on another side than ``beside``."""
        if self.beside is None:
            return []
        return [
            max(0.0, -getattr(setup, name) * math.copysign(1.0, getattr(self.beside, name)))
            / MOVE_BY_NAME[name].step
            for name in ("turn_deg", "key_azimuth_deg")
        ]


def effort(baseline: Setup, setup: Setup) -> float:
    """Natural steps away from straight on, weighed; large moves count a little more."""
    steps = steps_between(baseline, setup)
    moved = sum(
        move.effort * (abs(steps[move.name]) + 0.1 * steps[move.name] ** 2) for move in MOVES
    )
    return moved + sum(CHOICE_EFFORT[name] for name in choices_between(baseline, setup))


def unpleasantness(space: SearchSpace, vector: Vector) -> float:
    """Light far from loop or Rembrandt, dark eyes, a stretched face, a view from below or above.

    Each in steps of its own.
    """
    read = space.reader(vector)
    beside = _outside(abs(read("key_beside_face_deg")), PLEASANT_BESIDE_DEG)
    above = _outside(read("key_above_face_deg"), PLEASANT_ABOVE_DEG)
    stretch = max(0.0, read("near_far_stretch") - PLEASANT_STRETCH) / 0.03
    chin = _outside(read("seen_chin_deg"), PLEASANT_CHIN_DEG) / 5.0
    near = NEAR_PRICE * max(0.0, NEAR_MM - read("distance_mm")) / 100.0
    return chin + (beside + above) / 15.0 + 2.0 * (2.0 - read("catchlights")) + stretch + near


def misfit(space: SearchSpace, plain: PlainLook, vector: Vector) -> float:
    """How far a set-up is from a plain look."""
    read = space.reader(vector)
    turn = (abs(read("seen_turn_deg")) - plain.turn_deg) / 7.0
    beside = (abs(read("key_beside_face_deg")) - plain.beside_deg) / 15.0
    above = (read("key_above_face_deg") - plain.above_deg) / 15.0
    return turn**2 + beside**2 + above**2


def _outside(value: float, band: tuple[float, float]) -> float:
    return max(band[0] - value, value - band[1], 0.0)
