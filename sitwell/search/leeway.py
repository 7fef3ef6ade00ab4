"""Leeway: how far each move may drift, alone, before a guard breaks or a tenth of the gain goes.

Each side is searched outward in growing strides from the planned value, so that the nearest
break is found, and then halved down to the move's grid. Moves that drift together have less. A
sitter's own move counts for them, a shared one for all.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from sitwell.base.words import tr
from sitwell.search.choices import NEAREST_MM
from sitwell.search.goals import Goal
from sitwell.search.group import GroupSetup
from sitwell.search.group_search_space import Option
from sitwell.search.moves import POSE_MOVES, Move
from sitwell.search.plan import Leeway
from sitwell.search.search_space import Vector
from sitwell.search.sentences import END_OF_RANGE, GAIN_LOST, LIKENESS_LOST

DISTANCE = Move(name="distance_mm", step=200.0, grid=50.0, effort=0.0)
DISTANCE_REACH = 0.3  # stepping farther off than this share changes the framing itself
FIRST_STRIDE = 0.5  # natural steps; what breaks within it stays broken as far as that
# What shows a far ear again, or a nostril, farther on: its strides double. Others grow fourfold.
ONLY_DOUBLED = (*POSE_MOVES, "camera_height_mm")
LOST_SHARE, LOST_STEPS = 0.1, 0.1  # of the gain that may go, and at least so many noticeable steps

WhyNot = Callable[[float], str | None]  # why a value does not serve, or None while it does


@dataclass(frozen=True, slots=True)
class Keeper:
    """What must be kept while something drifts: all guards that hold now, and each one's gain.

    With a ``plain`` look in the goal, where nothing is gained, that look.
    """

    goal: Goal
    option: Option
    outcome: Vector

    def why_not(self, setup: GroupSetup) -> str | None:
        """Why a drifted set-up no longer serves, or None while it does."""
        goal = self.goal
        setup = replace(setup, shared=self.option.choice.lit(setup.shared))
        outcome = goal.space.vector(setup, self.option.choice)
        held = goal.broken(self.outcome)
        for key, guard in goal.broken(outcome).items():
            if key not in held:
                return guard.sentence
        if goal.plain is not None:
            was, becomes = (goal.misfit(goal.space.parts(o)[0]) for o in (self.outcome, outcome))
            return tr(LIKENESS_LOST) if becomes > was + 1.0 else None
        gained, left = goal.gains(self.outcome), goal.gains(outcome)
        lost = left < gained - [max(LOST_SHARE * gain, LOST_STEPS) for gain in gained]
        return tr(GAIN_LOST) if lost.any() else None


def own_leeway(keeper: Keeper, setup: GroupSetup, owner: int) -> tuple[Leeway, ...]:
    """The leeway of one sitter's own moves."""
    return _leeway_of_all(keeper, setup, owner, [])


def shared_leeway(keeper: Keeper, setup: GroupSetup) -> tuple[Leeway, ...]:
    """The leeway of what is everybody's: camera and its distance, key, fill, background."""
    return _leeway_of_all(keeper, setup, None, _distance_span(keeper, setup))


def seen_by(rows: tuple[Leeway, ...], setup: GroupSetup, index: int) -> tuple[Leeway, ...]:
    """Shared leeway as it stands in one sitter's own set-up."""

    def own(move: str, value: float) -> float:
        return float(getattr(setup.with_values({(None, move): value}).own(index), move))

    return tuple(
        replace(row, low=round(own(row.move, row.low), 2), high=round(own(row.move, row.high), 2))
        for row in rows
    )


def _leeway_of_all(
    keeper: Keeper, setup: GroupSetup, owner: int | None, more: list[tuple[Move, float, float]]
) -> tuple[Leeway, ...]:
    option, space = keeper.option, keeper.goal.space

    def drifted(name: str) -> WhyNot:
        return lambda value: keeper.why_not(setup.with_values({(owner, name): value}))

    free = zip(space.moves, option.low[space.free], option.high[space.free], strict=True)
    spans = [(move, float(low), float(high)) for (who, move), low, high in free if who == owner]
    return tuple(
        leeway_of(move, setup.value(owner, move.name), (low, high), drifted(move.name))
        for move, low, high in (*spans, *more)
        if high > low
    )


def _distance_span(keeper: Keeper, setup: GroupSetup) -> list[tuple[Move, float, float]]:
    """How far the camera may come and go; nothing where the distance is held."""
    means, lens = keeper.goal.space.spaces[0].means, keeper.option.choice.lens
    if "distance_mm" in means.locked:
        return []
    distance_mm = setup.shared.distance_mm
    forward_mm = max(place.z_mm for place in setup.places)  # of the nearest sitter
    nearest_mm = max(NEAREST_MM, lens.closest_focus_mm) + forward_mm
    reach_mm = DISTANCE_REACH * distance_mm
    farthest_mm = min(means.room.depth_mm, distance_mm + reach_mm)
    return [(DISTANCE, max(nearest_mm, distance_mm - reach_mm), farthest_mm)]


def leeway_of(move: Move, value: float, ends: tuple[float, float], why_not: WhyNot) -> Leeway:
    """How far a move may drift from a value; ``ends`` are coordinates that it can't pass."""
    low, low_why = _reach(move, value, ends[0], -1.0, why_not)
    high, high_why = _reach(move, value, ends[1], 1.0, why_not)
    return Leeway(move=move.name, low=low, high=high, low_why=low_why, high_why=high_why)


def _reach(
    move: Move, value: float, bound: float, sign: float, why_not: WhyNot
) -> tuple[float, str]:
    """The last good value on one side, and what ends it."""
    start = move.coordinate(value)
    room = max(0.0, sign * (float(bound) - start))

    def at(strides: int) -> float:
        return move.value(start + sign * min(strides * move.grid, room))

    growth = 2 if move.name in ONLY_DOUBLED else 4
    good, stride, why = 0, max(1, round(FIRST_STRIDE * move.step / move.grid)), None
    while why is None and good * move.grid < room - 1e-9:
        why = why_not(at(stride))
        if why is None:
            good, stride = stride, growth * stride
    if why is None:
        return round(at(good), 2) + 0.0, tr(END_OF_RANGE)
    bad = stride
    while bad - good > 1:
        middle = (good + bad) // 2
        middle_why = why_not(at(middle))
        if middle_why is None:
            good = middle
        else:
            bad, why = middle, middle_why
    return round(at(good), 2) + 0.0, why
