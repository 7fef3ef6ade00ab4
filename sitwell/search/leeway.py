"""Leeway: how far each move may drift, alone, before a guard breaks or a tenth of the gain goes.

Each side is searched outward in doubling strides from the planned value, so that the nearest
break is found, and then halved down to the move's grid. Moves that drift together have less.
"""

from collections.abc import Callable
from dataclasses import dataclass

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search.choices import NEAREST_MM, Choice
from sitwell.search.guards import Guards
from sitwell.search.moves import Move
from sitwell.search.plan import Leeway
from sitwell.search.sentences import END_OF_RANGE
from sitwell.search.stage import Stage, Vector

DISTANCE = Move(name="distance_mm", step=200.0, grid=50.0, effort=0.0)
DISTANCE_REACH = 0.3  # stepping farther off than this share changes the framing itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeper:
    """What must be kept while drifting: the guards that hold now, and what the set-up is for."""

    stage: Stage
    guards: Guards
    worth: Callable[[Vector], float]
    least: float
    lost_sentence: str
    already_broken: frozenset[str]

    def why_not(self, setup: Setup) -> str | None:
        """Why a drifted set-up no longer serves, or None while it does."""
        vector = self.stage.look(setup)
        for guard in self.guards.broken(vector):
            if guard.name not in self.already_broken:
                return guard.sentence
        return self.lost_sentence if self.worth(vector) < self.least else None


def find_leeway(keeper: Keeper, option: int, setup: Setup) -> tuple[Leeway, ...]:
    """The leeway of every free move of a set-up, and of the distance."""
    choice = keeper.stage.choices[option]
    found = []
    for index, move in zip(keeper.stage.free_indices, keeper.stage.free, strict=True):
        low, high = choice.low[index], choice.high[index]
        if high > low:
            found.append(_leeway(keeper, choice, setup, move, float(low), float(high)))
    if "distance_mm" not in keeper.stage.means.locked:
        nearest = max(
            NEAREST_MM, choice.lens.closest_focus_mm, (1 - DISTANCE_REACH) * setup.distance_mm
        )
        farthest = min(keeper.stage.means.room.depth_mm, (1 + DISTANCE_REACH) * setup.distance_mm)
        found.append(_leeway(keeper, choice, setup, DISTANCE, nearest, farthest))
    return tuple(found)


def _leeway(
    keeper: Keeper, choice: Choice, setup: Setup, move: Move, low: float, high: float
) -> Leeway:
    low_value, low_why = _reach(keeper, choice, setup, move, low, -1.0)
    high_value, high_why = _reach(keeper, choice, setup, move, high, 1.0)
    return Leeway(
        move=move.name, low=low_value, high=high_value, low_why=low_why, high_why=high_why
    )


def _reach(
    keeper: Keeper, choice: Choice, setup: Setup, move: Move, bound: float, sign: float
) -> tuple[float, str]:
    """The last good value on one side, and what ends it."""
    start = move.coordinate(getattr(setup, move.name))
    room = max(0.0, sign * (bound - start))

    def why_not(strides: int) -> str | None:
        there = start + sign * min(strides * move.grid, room)
        return keeper.why_not(choice.lit(setup.with_changes(**{move.name: move.value(there)})))

    good, stride, why = 0, 1, None
    while why is None and good * move.grid < room - 1e-9:
        why = why_not(stride)
        if why is None:
            good, stride = stride, 2 * stride
    if why is None:
        return _shown(move, start + sign * min(good * move.grid, room)), tr(END_OF_RANGE)
    bad = stride
    while bad - good > 1:
        middle = (good + bad) // 2
        middle_why = why_not(middle)
        if middle_why is None:
            good = middle
        else:
            bad, why = middle, middle_why
    return _shown(move, start + sign * min(good * move.grid, room)), why


def _shown(move: Move, coordinate: float) -> float:
    return round(move.value(coordinate), 2) + 0.0
