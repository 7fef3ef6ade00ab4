"""Collisions: moves that one wish pulls one way and another wish, or a guard, pulls the other."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.benefit import Benefit
from sitwell.search.guards import Guards
from sitwell.search.moves import Move
from sitwell.search.plan import Conflict
from sitwell.search.search_space import SearchSpace
from sitwell.search.values import stays_words

Vector = NDArray[np.float64]

SWEEP = (-2.0, -1.0, -0.5, 0.5, 1.0, 2.0)  # natural steps
LEAST_SLOPE = 0.12  # noticeable steps a natural step; less is no pull
MOST_CONFLICTS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sweep:
    """One move swept around a set-up: gains of each wish and violations of each guard."""

    move: Move
    value: float
    offsets: Vector  # natural steps, (S,)
    gains: Vector  # (S, wishes)
    broken: Vector  # (S, guards)

    def slopes(self) -> Vector:
        """Pull on each wish, noticeable steps per natural step, over the whole sweep, (wishes,)."""
        centred = self.offsets - self.offsets.mean()
        return centred @ self.gains / (centred @ centred)


def find_conflicts(
    space: SearchSpace, benefit: Benefit, guards: Guards, option: int, setup: Setup, name: str
) -> tuple[Conflict, ...]:
    """The strongest pull of each colliding pair around the set-up so named, strongest first."""
    pulls: dict[tuple[str, str], tuple[float, Conflict]] = {}
    now = guards.violations(space.vector(setup))
    for sweep in _sweeps(space, benefit, guards, option, setup):
        found = [*_between_wishes(benefit, sweep, name)]
        found += _with_guards(benefit, guards, sweep, now, name)
        for strength, conflict in found:
            pair = (conflict.first, conflict.second)
            if pair not in pulls or strength > pulls[pair][0]:
                pulls[pair] = (strength, conflict)
    ordered = sorted(pulls.values(), key=lambda pull: -pull[0])
    return tuple(conflict for _, conflict in ordered[:MOST_CONFLICTS])


def _sweeps(
    space: SearchSpace, benefit: Benefit, guards: Guards, option: int, setup: Setup
) -> Iterator[_Sweep]:
    choice = space.choices[option]
    for index, move in zip(space.free_indices, space.free, strict=True):
        start = move.coordinate(getattr(setup, move.name))
        low, high = choice.low[index], choice.high[index]
        places = np.unique(np.clip(start + move.step * np.array([0.0, *SWEEP]), low, high))
        if len(places) < 3:
            continue
        setups = [setup.with_changes(**{move.name: move.value(float(p))}) for p in places]
        vectors = [space.vector(there) for there in setups]
        yield _Sweep(
            move=move,
            value=getattr(setup, move.name),
            offsets=(places - start) / move.step,
            gains=np.stack([benefit.by_wish(vector) for vector in vectors]),
            broken=np.stack([guards.violations(vector) for vector in vectors]),
        )


def _between_wishes(
    benefit: Benefit, sweep: _Sweep, set_up: str
) -> Iterator[tuple[float, Conflict]]:
    slopes = sweep.slopes()
    for one, other in combinations(range(slopes.size), 2):
        strength = float(min(abs(slopes[one]), abs(slopes[other])))
        if slopes[one] * slopes[other] >= 0 or strength < LEAST_SLOPE:
            continue
        first, second = benefit.wishes[one].feature, benefit.wishes[other].feature
        yield (
            strength,
            _conflict(
                say.CONFLICT_WISHES,
                sweep,
                set_up,
                first,
                second,
                rising=slopes[one] > 0,
                second_words=tr(say.FEATURE_WORDS[second]),
            ),
        )


def _with_guards(
    benefit: Benefit, guards: Guards, sweep: _Sweep, now: Vector, set_up: str
) -> Iterator[tuple[float, Conflict]]:
    for wish, slope in enumerate(sweep.slopes()):
        if abs(slope) < LEAST_SLOPE:
            continue
        ahead = np.sign(slope) * sweep.offsets > 0
        for index, guard in enumerate(guards.guards):
            if now[index] <= 0 and (sweep.broken[ahead, index] > 0).any():
                yield (
                    float(abs(slope)),
                    _conflict(
                        say.CONFLICT_GUARD,
                        sweep,
                        set_up,
                        benefit.wishes[wish].feature,
                        guard.name,
                        rising=slope > 0,
                        guard=guard.sentence,
                    ),
                )


def _conflict(
    pattern: str,
    sweep: _Sweep,
    set_up: str,
    first: str,
    second: str,
    *,
    rising: bool,
    second_words: str = "",
    guard: str = "",
) -> Conflict:
    name = sweep.move.name
    return Conflict(
        first=first,
        second=second,
        move=name,
        sentence=tr(
            pattern,
            way=tr(say.WAYS[name][0 if rising else 1]),
            first=tr(say.FEATURE_WORDS[first]),
            second=second_words,
            guard=guard,
            where=tr(say.IN_SET_UP[set_up]),
            stays=stays_words(name, sweep.value),
        ),
    )
