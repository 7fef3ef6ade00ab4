"""How far each move of a group may drift, alone: a sitter's own for them, a shared one for all."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupSetup
from sitwell.search.group_goal import GroupGoal
from sitwell.search.group_stage import OWN_MOVES, SHARED_MOVES, Option
from sitwell.search.moves import Move
from sitwell.search.plan import Leeway
from sitwell.search.sentences import END_OF_RANGE, GAIN_LOST
from sitwell.search.stage import Vector

WhyNot = Callable[[float], str | None]


@dataclass(frozen=True, slots=True)
class GroupKeeper:
    """What must be kept while something drifts: all guards that hold now, and each one's gain."""

    goal: GroupGoal
    option: Option
    outcome: Vector

    def why_not(self, setup: GroupSetup) -> str | None:
        """Why a drifted group no longer serves, or None while it does."""
        setup = replace(setup, shared=self.option.choice.lit(setup.shared))
        outcome = self.goal.stage.look(setup, self.option.choice)
        held, now = self._kept(self.outcome), self._kept(outcome)
        for name, sentence in now.items():
            if name not in held:
                return sentence
        was, becomes = self.goal.gains(self.outcome), self.goal.gains(outcome)
        lost = becomes < was - [max(0.1 * gain, 0.1) for gain in was]
        return tr(GAIN_LOST) if lost.any() else None

    def _kept(self, outcome: Vector) -> dict[tuple[int, str], str]:
        """The guards that are broken, with whose they are and what happens."""
        own, facts = self.goal.stage.parts(outcome)
        pairs = [*zip(self.goal.guards, own, strict=True), (self.goal.together, facts)]
        return {
            (i, guard.name): guard.sentence
            for i, (guards, vector) in enumerate(pairs)
            for guard in guards.broken(vector)
        }


def own_leeway(keeper: GroupKeeper, setup: GroupSetup, index: int) -> tuple[Leeway, ...]:
    """The leeway of one sitter's own moves."""
    option, first = keeper.option, len(SHARED_MOVES) + index * len(OWN_MOVES)

    def moved(name: str) -> WhyNot:
        def why_not(value: float) -> str | None:
            poses = list(setup.poses)
            poses[index] = {**poses[index], name: value}
            return keeper.why_not(replace(setup, poses=tuple(poses)))

        return why_not

    ends = list(zip(option.low[first:], option.high[first:], strict=True))
    return tuple(
        _leeway(move, setup.poses[index][move.name], span, moved(move.name))
        for move, span in zip(OWN_MOVES, ends[: len(OWN_MOVES)], strict=True)
        if span[1] > span[0]
    )


def shared_leeway(keeper: GroupKeeper, setup: GroupSetup) -> tuple[Leeway, ...]:
    """The leeway of what is everybody's: camera, key, fill, background."""
    option = keeper.option

    def moved(name: str) -> WhyNot:
        return lambda value: keeper.why_not(with_shared(setup, **{name: value}))

    return tuple(
        _leeway(
            move,
            getattr(setup.shared, move.name),
            (option.low[i], option.high[i]),
            moved(move.name),
        )
        for i, move in enumerate(SHARED_MOVES)
        if option.high[i] > option.low[i]
    )


def seen_by(rows: tuple[Leeway, ...], setup: GroupSetup, index: int) -> tuple[Leeway, ...]:
    """Shared leeway as it stands in one sitter's own set-up."""

    def own(move: str, value: float) -> float:
        return float(getattr(with_shared(setup, **{move: value}).own(index), move))

    return tuple(
        replace(row, low=round(own(row.move, row.low), 2), high=round(own(row.move, row.high), 2))
        for row in rows
    )


def with_shared(setup: GroupSetup, **changes: float) -> GroupSetup:
    """The group with something that is everybody's changed."""
    shared: Setup = setup.shared.with_changes(**changes)
    return replace(setup, shared=shared)


def _leeway(move: Move, value: float, ends: tuple[float, float], why_not: WhyNot) -> Leeway:
    low, low_why = _reach(move, value, ends[0], -1.0, why_not)
    high, high_why = _reach(move, value, ends[1], 1.0, why_not)
    return Leeway(move=move.name, low=low, high=high, low_why=low_why, high_why=high_why)


def _reach(
    move: Move, value: float, bound: float, sign: float, why_not: WhyNot
) -> tuple[float, str]:
    """The last good value on one side in doubling strides, halved down, and what ends it."""
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
