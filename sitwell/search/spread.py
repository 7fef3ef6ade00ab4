"""What a head that is only known so well leaves open: a set-up tried on the heads it may be.

What is not known is not promised: a guard must hold on nine in ten of the heads that a sitter's
frames leave possible, and what a wish gets is told as a range. Cast shadows are the fitted head's.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search.guards import Guards, make_guards
from sitwell.search.plan import Gain, GuardState, Leeway
from sitwell.search.search_space import Evaluator, SearchSpace, Vector
from sitwell.search.sentences import HEAD_UNSURE

SURE = 0.9  # of the possible heads on which a guard must hold
RANGE = (0.1, 0.9)  # of what a measure becomes on them
HEADS = 10


@dataclass(frozen=True, slots=True)
class PossibleHeads:
    """One sitter's possible heads, each with its own guards; none where the head is only one."""

    spaces: tuple[SearchSpace, ...]
    guards: tuple[Guards, ...]

    @classmethod
    def of(
        cls,
        space: SearchSpace,
        evaluators: Sequence[Evaluator],
        straight: Setup,
        dropped: Sequence[str],
    ) -> "PossibleHeads":
        """The heads in a sitter's search space; ``dropped`` guards are not asked of them."""
        spaces = tuple(replace(space, evaluator=each, seen={}) for each in evaluators)
        guards = tuple(own_guards(each, each.vector(straight), dropped) for each in spaces)
        return cls(spaces, guards)

    def is_sure(self, setup: Setup, asked: set[str]) -> bool:
        """Whether every guard asked for holds on enough of them; most is learned from the first."""
        missed: Counter[str] = Counter()
        allowed = len(self.spaces) - int(np.ceil(SURE * len(self.spaces)))
        for space, guards in zip(self.spaces, self.guards, strict=True):
            missed.update(g.name for g in guards.broken(space.vector(setup)) if g.name in asked)
            if any(count > allowed for count in missed.values()):
                return False
        return True

    def with_sure_turn(
        self, rows: Sequence[Leeway], setup: Setup, asked: set[str]
    ) -> tuple[Leeway, ...]:
        """Leeway with the turn's ends drawn in, by whole degrees, to where guards hold surely."""
        if not self.spaces or not self.is_sure(setup, asked):
            return tuple(rows)
        return tuple(
            self._sure_turn(row, setup, asked) if row.move == "turn_deg" else row for row in rows
        )

    def _sure_turn(self, row: Leeway, setup: Setup, asked: set[str]) -> Leeway:
        low, high = (self._last_sure(end, setup, asked) for end in (row.low, row.high))
        return replace(
            row,
            low=low,
            high=high,
            low_why=row.low_why if low == row.low else tr(HEAD_UNSURE),
            high_why=row.high_why if high == row.high else tr(HEAD_UNSURE),
        )

    def _last_sure(self, end_deg: float, setup: Setup, asked: set[str]) -> float:
        """The turn nearest to an end on which the guards still hold on enough of the heads."""
        way = 1.0 if end_deg > setup.turn_deg else -1.0
        good, bad = 0, int(abs(end_deg - setup.turn_deg)) + 1
        if self.is_sure(setup.with_changes(turn_deg=end_deg), asked):
            return end_deg
        while bad - good > 1:
            middle = (good + bad) // 2
            there = setup.with_changes(turn_deg=setup.turn_deg + way * middle)
            good, bad = (middle, bad) if self.is_sure(there, asked) else (good, middle)
        return setup.turn_deg + way * good

    def with_ranges(self, gains: Sequence[Gain], setup: Setup) -> tuple[Gain, ...]:
        """Gains with what each measure becomes on most of the heads."""
        if not self.spaces:
            return tuple(gains)
        seen, place = [space.vector(setup) for space in self.spaces], self.spaces[0].place
        return tuple(
            replace(gain, likely=_likely([vector[place[gain.measure]] for vector in seen]))
            for gain in gains
        )

    def with_shares(self, states: Sequence[GuardState], setup: Setup) -> tuple[GuardState, ...]:
        """Guards with the share of the heads on which they hold."""
        if not self.spaces:
            return tuple(states)
        missed: Counter[str] = Counter()
        for space, guards in zip(self.spaces, self.guards, strict=True):
            missed.update(guard.name for guard in guards.broken(space.vector(setup)))
        count = len(self.spaces)
        return tuple(replace(s, held_by=(count - missed[s.name]) / count) for s in states)


def own_guards(space: SearchSpace, straight: Vector, dropped: Sequence[str] = ()) -> Guards:
    """The guards of one head, from what it shows straight on."""
    named = dict(zip(space.names, straight.tolist(), strict=True))
    kept = [guard for guard in make_guards(named) if guard.name not in dropped]
    return Guards(kept, space.names)


def _likely(values: Sequence[float]) -> tuple[float, float] | None:
    """Between which values most lie; None where one can't be read."""
    if not np.isfinite(values).all():
        return None
    low, high = np.quantile(values, RANGE)
    return float(low), float(high)
