"""How far each move of a group may drift, alone: a sitter's own for them, a shared one for all."""

from dataclasses import dataclass, replace

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupSetup
from sitwell.search.group_goal import GroupGoal
from sitwell.search.group_search_space import OWN_MOVES, SHARED_MOVES, Option
from sitwell.search.leeway import WhyNot, distance_span, leeway_of
from sitwell.search.plan import Leeway
from sitwell.search.search_space import Vector
from sitwell.search.sentences import GAIN_LOST


@dataclass(frozen=True, slots=True)
class GroupKeeper:
    """What must be kept while something drifts: all guards that hold now, and each one's gain."""

    goal: GroupGoal
    option: Option
    outcome: Vector

    def why_not(self, setup: GroupSetup) -> str | None:
        """Why a drifted group no longer serves, or None while it does."""
        setup = replace(setup, shared=self.option.choice.lit(setup.shared))
        outcome = self.goal.space.vector(setup, self.option.choice)
        held, now = self._kept(self.outcome), self._kept(outcome)
        for name, sentence in now.items():
            if name not in held:
                return sentence
        was, becomes = self.goal.gains(self.outcome), self.goal.gains(outcome)
        lost = becomes < was - [max(0.1 * gain, 0.1) for gain in was]
        return tr(GAIN_LOST) if lost.any() else None

    def _kept(self, outcome: Vector) -> dict[tuple[int, str], str]:
        """The guards that are broken, with whose they are and what happens."""
        own, facts = self.goal.space.parts(outcome)
        pairs = [*zip(self.goal.guards, own, strict=True), (self.goal.together, facts)]
        return {
            (i, guard.name): guard.sentence
            for i, (guards, vector) in enumerate(pairs)
            for guard in guards.broken(vector)
        }


def own_leeway(keeper: GroupKeeper, setup: GroupSetup, index: int) -> tuple[Leeway, ...]:
    """The leeway of one sitter's own moves."""
    option, first = keeper.option, len(SHARED_MOVES) + index * len(OWN_MOVES)

    def drifted(name: str) -> WhyNot:
        def why_not(value: float) -> str | None:
            poses = list(setup.poses)
            poses[index] = {**poses[index], name: value}
            return keeper.why_not(replace(setup, poses=tuple(poses)))

        return why_not

    ends = list(zip(option.low[first:], option.high[first:], strict=True))
    return tuple(
        leeway_of(move, setup.poses[index][move.name], span, drifted(move.name))
        for move, span in zip(OWN_MOVES, ends[: len(OWN_MOVES)], strict=True)
        if span[1] > span[0]
    )


def shared_leeway(keeper: GroupKeeper, setup: GroupSetup) -> tuple[Leeway, ...]:
    """The leeway of what is everybody's: camera and its distance, key, fill, background."""
    option, means = keeper.option, keeper.goal.space.spaces[0].means

    def drifted(name: str) -> WhyNot:
        return lambda value: keeper.why_not(with_shared(setup, **{name: value}))

    spans = [
        (move, float(option.low[i]), float(option.high[i])) for i, move in enumerate(SHARED_MOVES)
    ]
    forward_mm = max(place.z_mm for place in setup.places)
    spans += distance_span(means, option.choice, setup.shared.distance_mm, forward_mm)
    return tuple(
        leeway_of(move, getattr(setup.shared, move.name), (low, high), drifted(move.name))
        for move, low, high in spans
        if high > low
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
