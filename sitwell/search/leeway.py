"""Leeway: how far each move may drift, alone, before a guard breaks or a tenth of the gain goes.

Each side is searched outward in doubling strides from the planned value, so that the nearest
break is found, and then halved down to the move's grid. Moves that drift together have less.
"""

from collections.abc import Callable
from dataclasses import dataclass

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search.choices import NEAREST_MM, Choice, Means
from sitwell.search.guards import Guards
from sitwell.search.moves import Move
from sitwell.search.plan import Leeway
from sitwell.search.search_space import SearchSpace, Vector
from sitwell.search.sentences import END_OF_RANGE

DISTANCE = Move(name="distance_mm", step=200.0, grid=50.0, effort=0.0)
DISTANCE_REACH = 0.3  # stepping farther off than this share changes the framing itself

WhyNot = Callable[[float], str | None]  # why a value does not serve, or None while it does


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeper:
    """What must be kept while drifting: the guards that hold now, and what the set-up is for."""

    space: SearchSpace
    guards: Guards
    worth: Callable[[Vector], float]
    least: float
    lost_sentence: str
    already_broken: frozenset[str]

    def why_not(self, setup: Setup) -> str | None:
        """Why a drifted set-up no longer serves, or None while it does."""
        vector = self.space.vector(setup)
        for guard in self.guards.broken(vector):
            if guard.name not in self.already_broken:
                return guard.sentence
        return self.lost_sentence if self.worth(vector) < self.least else None


def find_leeway(keeper: Keeper, option: int, setup: Setup) -> tuple[Leeway, ...]:
    """The leeway of every free move of a set-up, and of the distance."""
    choice = keeper.space.choices[option]

    def drifted(name: str) -> WhyNot:
        return lambda value: keeper.why_not(choice.lit(setup.with_changes(**{name: value})))

    free = zip(keeper.space.free_indices, keeper.space.free, strict=True)
    spans = [(move, float(choice.low[index]), float(choice.high[index])) for index, move in free]
    spans += distance_span(keeper.space.means, choice, setup.distance_mm)
    return tuple(
        leeway_of(move, getattr(setup, move.name), (low, high), drifted(move.name))
        for move, low, high in spans
        if high > low
    )


def distance_span(
    means: Means, choice: Choice, distance_mm: float, forward_mm: float = 0.0
) -> list[tuple[Move, float, float]]:
    """How far the camera may come and go; nothing where the distance is held.

    ``forward_mm`` is how far the nearest sitter stands before the point it is counted from.
    """
    if "distance_mm" in means.locked:
        return []
    reach_mm = DISTANCE_REACH * distance_mm
    nearest_mm = max(NEAREST_MM, choice.lens.closest_focus_mm) + forward_mm
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

    good, stride, why = 0, 1, None
    while why is None and good * move.grid < room - 1e-9:
        why = why_not(at(stride))
        if why is None:
            good, stride = stride, 2 * stride
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
