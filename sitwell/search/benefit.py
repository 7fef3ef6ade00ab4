"""What a set-up does for the wishes: aims counted in noticeable steps, capped, weighed, summed."""

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.wishes import Wish
from sitwell.search.aims import KINDS, aims_for

Vector = NDArray[np.float64]

STEPPED_BACK = 0.25  # what a wish still weighs where another one is favoured


class Benefit:
    """What a set-up does for all wishes, in weighted noticeable steps; built once for a search.

    ``names`` orders the vectors, ``baseline`` is the straight-on vector. A measure that is not a
    number (no glasses, say) gains nothing and costs nothing. ``favoured``: the index of a wish
    before which the others step back.
    """

    def __init__(
        self,
        wishes: Sequence[Wish],
        names: Sequence[str],
        baseline: Vector,
        favoured: int | None = None,
    ) -> None:
        self.wishes = tuple(wishes)
        self._made_from = (names, baseline)
        self.aims = tuple((i, aim) for i, w in enumerate(wishes) for aim in aims_for(w))
        place = {name: index for index, name in enumerate(names)}
        aims = [aim for _, aim in self.aims]
        self._index = np.array([place[aim.measure] for aim in aims], dtype=int)
        self._target = np.array([aim.target for aim in aims])
        self._masks = {
            kind: np.array([aim.kind == kind for aim in aims], dtype=bool) for kind in KINDS
        }
        self._base = np.asarray(baseline)[self._index]
        bases = self._base.tolist()
        self._notice = np.array([a.notice(b) for a, b in zip(aims, bases, strict=True)])
        # Sums that are capped and weighed: one for a group, one for an aim on its own.
        keys = [(i, aim.group or aim.measure) for i, aim in self.aims]
        sums = list(dict.fromkeys(keys))
        self._sum_of_aim = np.array([sums.index(key) for key in keys], dtype=int)
        leading = [self.aims[keys.index(key)] for key in sums]
        self._owner = np.array([i for i, _ in leading], dtype=int)
        self._cap = np.array([aim.cap for _, aim in leading])
        weights = [wishes[i].weight / 2.0 * aim.weight for i, aim in leading]
        stepping_back = np.array([favoured not in (None, i) for i, _ in leading], dtype=bool)
        self._weight = np.where(stepping_back, STEPPED_BACK, 1.0) * np.array(weights)
        self._kept = np.array([aim.kind == "keep" for _, aim in leading], dtype=bool)

    def favouring(self, wish: int) -> "Benefit":
        """The same, with the other wishes stepping back before one."""
        return Benefit(self.wishes, *self._made_from, favoured=wish)

    def without(self, features: Collection[str]) -> "Benefit":
        """The same, without the wishes for some features."""
        kept = [wish for wish in self.wishes if wish.feature not in features]
        return Benefit(kept, *self._made_from)

    @property
    def asks_for_change(self) -> bool:
        """Whether any wish asks for more than being left as it is."""
        return bool((~self._kept).any())

    def is_reached(self, vector: Vector) -> bool:
        """Whether all that is wished for is only to be reached, and is."""
        asked, reach = ~self._masks["keep"], self._masks["reach"]
        there = vector[self._index] >= self._target
        return bool(asked.any() and (reach | ~asked).all() and there[asked].all())

    def steps(self, vector: Vector) -> Vector:
        """Noticeable steps in the wished direction for each aim, not capped."""
        now, base = vector[self._index], self._base
        masks = self._masks
        steps = np.zeros(now.size)
        steps[masks["raise"]] = (now - base)[masks["raise"]]
        steps[masks["lower"]] = (base - now)[masks["lower"]]
        closer = np.abs(base - self._target) - np.abs(now - self._target)
        steps[masks["toward"]] = closer[masks["toward"]]
        steps[masks["away"]] = -closer[masks["away"]]
        reached = np.minimum(now, self._target) - np.minimum(base, self._target)
        steps[masks["reach"]] = reached[masks["reach"]]
        steps[masks["keep"]] = -np.abs(now - base)[masks["keep"]]
        return np.nan_to_num(steps / self._notice, nan=0.0, posinf=0.0, neginf=0.0)

    def by_wish(self, vector: Vector) -> Vector:
        """Weighted, capped gain of each wish; a loss counts half as much again as a gain."""
        sums = np.bincount(self._sum_of_aim, self.steps(vector), minlength=self._owner.size)
        gained = self._cap * np.tanh(np.maximum(sums, 0.0) / self._cap)
        # What was to be left alone may drift half a step before it counts.
        lost = np.minimum(sums + 0.5 * self._kept, 0.0)
        counted = self._weight * (gained + 1.5 * lost)
        return np.bincount(self._owner, counted, minlength=len(self.wishes)).astype(np.float64)

    def total(self, vector: Vector) -> float:
        """The sum over all wishes."""
        return float(self.by_wish(vector).sum())
