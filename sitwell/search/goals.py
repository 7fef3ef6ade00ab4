"""What a set-up tries for, of one sitter or several, as a judge for the solver.

The most benefit within the guards, or without a wish a pleasant turn and light; with a mild liking
for light that draws a face well: loop to Rembrandt, a catchlight in both eyes.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.wishes import HeightWish
from sitwell.scene.setup import Setup
from sitwell.search.benefit import Benefit
from sitwell.search.choices import NEAR_MM
from sitwell.search.differences import apart
from sitwell.search.group import GroupSetup
from sitwell.search.group_facts import FACT_NAMES
from sitwell.search.group_search_space import GroupSearchSpace
from sitwell.search.guards import Guard, Guards
from sitwell.search.moves import (
    CHOICE_EFFORT,
    MOVE_BY_NAME,
    MOVES,
    POSE_MOVES,
    Move,
    choices_between,
)
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
NEAR_PRICE = 3.0
PLEASANT_CHIN_DEG = (-5.0, 5.0)  # as seen: past it a view is from below or above (design choice)
EFFORT_PRICE = 0.12  # noticeable steps given for one natural step of effort
PLEASANT_PRICE = 0.15  # the same for one unit of unpleasant light
# Where no wish says what an effort is worth, it is weighed against the look itself.
PLAIN_EFFORT_PRICE, PLAIN_LOOK_SHARE = 1.1, 0.1
NEEDLESS = ("chin_deg", "tilt_deg", "camera_height_mm")
HARDLY = 0.2  # noticeable steps that no one would miss
# Noticeable steps that people turned away from one another cost, a natural step each; a design
# choice: two who look apart read as strangers.
OUTWARD_PRICE, OUTWARD_FREE_DEG = 0.12, 4.0
ARRANGING_EFFORT = {"box": 0.6, "step": 0.3, "order": 0.1}
HEIGHT_NOTICE = 0.2  # face heights; a design choice
HEIGHT_CAP = 4.0


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
class Goal:
    """What places are judged by; ``benefits`` and ``guards`` are each sitter's, ``together`` all's.

    With a ``plain`` look nothing is gained, and nothing may be lost for it. ``apart_from`` are
    set-ups that it must differ from, ``beside`` is one whose sides it must share. ``base`` is the
    straight-on outcome.
    """

    space: GroupSearchSpace
    benefits: tuple[Benefit, ...]
    guards: tuple[Guards, ...]
    together: Guards
    height: HeightWish
    baseline: GroupSetup
    base: Vector
    plain: PlainLook | None = None
    apart_from: Sequence[GroupSetup] = ()
    beside: GroupSetup | None = None

    def __call__(self, option: int, x: Vector, outcome: Vector) -> tuple[float, Vector]:
        """Cost, and violations of all guards, of fairness and of staying apart."""
        setup, (own, facts) = self.space.setup_at(option, x), self.space.parts(outcome)
        strain, look = effort(self.baseline, setup), self.look_price(setup, own)
        if self.plain is None:
            gains = self.gains(outcome)
            cost = EFFORT_PRICE * strain + look - float(gains.sum())
            # Nobody's wishes may pay for another's.
            lost = gains[: len(own)] if len(own) > 1 else gains[:0]
        else:
            lost = self.by_wish(own)
            cost = PLAIN_EFFORT_PRICE * strain + look / PLAIN_LOOK_SHARE + self.misfit(own)
        near = [1.0 - apart(setup, other) for other in self.apart_from]
        kept = [guards.violations(vector) for guards, vector in zip(self.guards, own, strict=True)]
        together = self.together.violations(facts) if len(facts) else facts
        fair = (-HARDLY - lost) / HARDLY
        needless = [] if self.plain is None else self.needless(setup)
        odd = [*self.wrong_side(setup), *needless]
        return cost, np.concatenate([*kept, together, fair, near, odd])

    def gains(self, outcome: Vector) -> Vector:
        """What each sitter's wishes gain in all, and last the wish about heights."""
        own, facts = self.space.parts(outcome)
        totals = [b.total(vector) for b, vector in zip(self.benefits, own, strict=True)]
        if not len(facts):
            return np.array([*totals, 0.0])
        step = FACT_NAMES.index("height_step")
        was = float(self.space.parts(self.base)[1][step])
        return np.array([*totals, height_gain(self.height, was, float(facts[step]))])

    def by_wish(self, own: Sequence[Vector]) -> Vector:
        """What each wish gains, one sitter's after another's."""
        return np.concatenate([b.by_wish(v) for b, v in zip(self.benefits, own, strict=True)])

    def favouring(self, owner: int, wish: int | None) -> "Goal":
        """The same, with one sitter's other wishes stepping back before one of theirs."""
        if wish is None:
            return self
        benefits = list(self.benefits)
        benefits[owner] = benefits[owner].favouring(wish)
        return replace(self, benefits=tuple(benefits))

    def without(self, features: Collection[str]) -> "Goal":
        """The same, with nobody's wishes for some features."""
        return replace(self, benefits=tuple(b.without(features) for b in self.benefits))

    def broken(self, outcome: Vector) -> dict[tuple[int, str], Guard]:
        """The guards that don't hold, by whose they are (past the last sitter: all's) and name."""
        own, facts = self.space.parts(outcome)
        pairs = [*zip(self.guards, own, strict=True)]
        if len(facts):
            pairs.append((self.together, facts))
        return {
            (i, guard.name): guard
            for i, (guards, vector) in enumerate(pairs)
            for guard in guards.broken(vector)
        }

    def look_price(self, setup: GroupSetup, own: Sequence[Vector]) -> float:
        """What unpleasant light, or people who look apart, costs a sitter on average."""
        unpleasant = sum(map(unpleasantness, self.space.spaces, own))
        return (PLEASANT_PRICE * unpleasant + OUTWARD_PRICE * outward_steps(setup)) / len(own)

    def misfit(self, own: Sequence[Vector]) -> float:
        """How far everybody is from the plain look."""
        look = self.plain or PLAIN_LOOKS["balanced"]
        pairs = zip(self.space.spaces, own, strict=True)
        return sum(misfit(space, look, vector) for space, vector in pairs)

    def wrong_side(self, setup: GroupSetup) -> list[float]:
        """Natural steps by which a turn or the key lies on another side than ``beside``."""
        if self.beside is None:
            return []
        return [
            max(0.0, -setup.value(i, m.name) * math.copysign(1.0, self.beside.value(i, m.name)))
            / m.step
            for i, m in self.space.moves
            if m.name in ("turn_deg", "key_azimuth_deg")
        ]

    def needless(self, setup: GroupSetup) -> list[float]:
        """Natural steps by which chins, tilts and the lens leave their place, beyond a half each.

        Without a wish that needs it nobody is asked for them.
        """
        return [
            max(0.0, abs(setup.value(i, m.name) - self.baseline.value(i, m.name)) / m.step - 0.5)
            for i, m in self.space.moves
            if m.name in NEEDLESS
        ]


def height_gain(wish: HeightWish, was: float, becomes: float) -> float:
    """Weighted, capped noticeable steps in the wished direction; a loss counts half more."""
    if wish.direction == "leave":
        return 0.0
    steps = (was - becomes) / HEIGHT_NOTICE * (1.0 if wish.direction == "soften" else -1.0)
    counted = HEIGHT_CAP * math.tanh(max(steps, 0.0) / HEIGHT_CAP) + 1.5 * min(steps, 0.0)
    return wish.weight / 2.0 * counted


def outward_steps(setup: GroupSetup) -> float:
    """Natural steps by which sitters turn away from the group's middle, in all."""
    out = 0.0
    for place, pose in zip(setup.places, setup.poses, strict=True):
        if abs(place.x_mm) > 1.0:
            away_deg = pose["turn_deg"] * math.copysign(1.0, place.x_mm)
            out += max(0.0, away_deg - OUTWARD_FREE_DEG) / MOVE_BY_NAME["turn_deg"].step
    return out


def effort(baseline: GroupSetup, setup: GroupSetup) -> float:
    """Natural steps from straight on, weighed: shared ones once, each one's own, and places."""
    asked = lone_effort(baseline.shared, setup.shared)
    for was, now in zip(baseline.poses, setup.poses, strict=True):
        asked += sum(_cost(MOVE_BY_NAME[n], (now[n] - was[n])) for n in POSE_MOVES)
    return asked + _arranging(baseline, setup)


def lone_effort(baseline: Setup, setup: Setup) -> float:
    """Natural steps of one sitter's set-up away from straight on, weighed."""
    moved = sum(
        _cost(m, m.coordinate(getattr(setup, m.name)) - m.coordinate(getattr(baseline, m.name)))
        for m in MOVES
    )
    return moved + sum(CHOICE_EFFORT[name] for name in choices_between(baseline, setup))


def _cost(move: Move, by: float) -> float:
    """What a move costs; large ones count a little more."""
    steps = abs(by) / move.step
    return move.effort * (steps + 0.1 * steps**2)


def _arranging(base: GroupSetup, setup: GroupSetup) -> float:
    boxes = sum(place.box_mm > 0 for place in setup.places)
    steps = sum(place.forward_mm > 0 for place in setup.places)
    moved = base.left_to_right() != setup.left_to_right()
    effort = ARRANGING_EFFORT
    return effort["box"] * boxes + effort["step"] * steps + effort["order"] * moved


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
