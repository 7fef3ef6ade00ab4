"""What a group's search tries for: every sitter's wishes together, nobody paying for another's."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sitwell.brief.wishes import HeightWish
from sitwell.search.benefit import Benefit
from sitwell.search.differences import apart
from sitwell.search.goals import PLEASANT_PRICE, Terms, misfit, unpleasantness
from sitwell.search.group import GroupSetup
from sitwell.search.group_facts import FACT_NAMES
from sitwell.search.group_search_space import GroupSearchSpace
from sitwell.search.guards import Guards
from sitwell.search.moves import CHOICE_EFFORT, MOVE_BY_NAME
from sitwell.search.search_space import Vector
from sitwell.search.simplify import HARDLY

# Noticeable steps that people turned away from one another cost, a natural step each; a design
# choice: two who look apart read as strangers.
OUTWARD_PRICE = 0.12
OUTWARD_FREE_DEG = 4.0
ARRANGING_EFFORT = {"box": 0.6, "step": 0.3, "order": 0.1}
HEIGHT_NOTICE = 0.2  # face heights; a design choice
HEIGHT_CAP = 4.0


def height_gain(wish: HeightWish, was: float, becomes: float) -> float:
    """Weighted, capped noticeable steps in the wished direction; a loss counts half more."""
    if wish.direction == "leave":
        return 0.0
    steps = (was - becomes) / HEIGHT_NOTICE * (1.0 if wish.direction == "soften" else -1.0)
    counted = HEIGHT_CAP * math.tanh(max(steps, 0.0) / HEIGHT_CAP) + 1.5 * min(steps, 0.0)
    return wish.weight / 2.0 * counted


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupGoal(Terms):
    """A judge of a group's places."""

    space: GroupSearchSpace
    benefits: tuple[Benefit, ...]
    guards: tuple[Guards, ...]  # each sitter's
    together: Guards  # the group's
    height: HeightWish
    baseline: GroupSetup
    base: Vector  # the straight-on group's outcome
    apart_from: Sequence[GroupSetup] = ()

    def __call__(self, option: int, x: Vector, outcome: Vector) -> tuple[float, Vector]:
        """Cost, and violations of all guards, of the floor and of staying apart."""
        setup = self.space.setup_at(option, x)
        own, facts = self.space.parts(outcome)
        seen, count = tuple(zip(self.space.spaces, own, strict=True)), len(own)
        gains = self.gains(outcome)
        looks = sum(unpleasantness(space, vector) for space, vector in seen)
        cost, broken = self.priced(
            gains,
            self.effort(setup),
            (PLEASANT_PRICE * looks + OUTWARD_PRICE * outward_steps(setup)) / count,
            sum(misfit(space, self.plain, vector) for space, vector in seen) if self.plain else 0.0,
        )
        # nobody's wishes may pay for another's
        own_loss = list((-HARDLY - gains[:count]) / HARDLY)
        near = [1.0 - apart_groups(setup, other) for other in self.apart_from]
        kept = [guards.violations(vector) for guards, vector in zip(self.guards, own, strict=True)]
        together = self.together.violations(facts)
        return cost, np.concatenate([*kept, together, own_loss, near, broken])

    def favouring(self, owner: int, wish: int) -> "GroupGoal":
        """The same, with one sitter's other wishes stepping back before one of theirs."""
        benefits = list(self.benefits)
        benefits[owner] = benefits[owner].favouring(wish)
        return replace(self, benefits=tuple(benefits))

    def gains(self, outcome: Vector) -> Vector:
        """What each sitter's wishes gain in all, and last the wish about heights."""
        own, facts = self.space.parts(outcome)
        step = FACT_NAMES.index("height_step")
        was = float(self.space.parts(self.base)[1][step])
        totals = [b.total(vector) for b, vector in zip(self.benefits, own, strict=True)]
        return np.array([*totals, height_gain(self.height, was, float(facts[step]))])

    def broken(self, outcome: Vector) -> bool:
        """Whether any guard, of one or of all, does not hold."""
        own, facts = self.space.parts(outcome)
        each = any(g.broken(vector) for g, vector in zip(self.guards, own, strict=True))
        return each or bool(self.together.broken(facts))

    def effort(self, setup: GroupSetup) -> float:
        """Natural steps away from straight on: shared ones once, each sitter's own, weighed."""
        base = self.baseline
        strain = 0.0
        for owner, move in self.space.moves:
            if owner is None:
                was, now = getattr(base.shared, move.name), getattr(setup.shared, move.name)
            else:
                was, now = base.poses[owner][move.name], setup.poses[owner][move.name]
            steps = (move.coordinate(now) - move.coordinate(was)) / move.step
            strain += move.effort * (abs(steps) + 0.1 * steps**2)
        for name in ("focal_mm", "key_size_mm"):
            if getattr(base.shared, name) != getattr(setup.shared, name):
                strain += CHOICE_EFFORT[name]
        return strain + _arranging(base, setup)


def outward_steps(setup: GroupSetup) -> float:
    """Natural steps by which sitters turn away from the group's middle, in all."""
    out = 0.0
    for place, pose in zip(setup.places, setup.poses, strict=True):
        if abs(place.x_mm) > 1.0:
            away_deg = pose["turn_deg"] * math.copysign(1.0, place.x_mm)
            out += max(0.0, away_deg - OUTWARD_FREE_DEG) / MOVE_BY_NAME["turn_deg"].step
    return out


def apart_groups(first: GroupSetup, second: GroupSetup) -> float:
    """How far two set-ups of a group are on the way to really differing for one of them."""
    if first.left_to_right() != second.left_to_right():
        return 1.0
    return max(apart(first.own(i), second.own(i)) for i in range(len(first.places)))


def _arranging(base: GroupSetup, setup: GroupSetup) -> float:
    boxes = sum(place.box_mm > 0 for place in setup.places)
    steps = sum(place.forward_mm > 0 for place in setup.places)
    moved = base.left_to_right() != setup.left_to_right()
    effort = ARRANGING_EFFORT
    return effort["box"] * boxes + effort["step"] * steps + effort["order"] * moved
