"""The search for the set-ups: the strong one, then the stops on the way back from it.

All of them look into one archive, so a place that one of them looked at costs the others nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.benefit import Benefit
from sitwell.search.differences import apart
from sitwell.search.goals import PLAIN_LOOKS, Goal, effort
from sitwell.search.guards import Guards, make_guards
from sitwell.search.search_space import SearchSpace, Vector
from sitwell.search.simplify import HARDLY, pruned, with_room
from sitwell.search.solve import Archive, Point, best, minimise, polish
from sitwell.search.starts import first_places
from sitwell.search.walk import Walk

STRENGTHS = ("gentle", "balanced", "strong")
NAMES_OF = {1: ("balanced",), 2: ("gentle", "strong"), 3: STRENGTHS}
LEAST_GAIN = 0.15  # noticeable steps in all; with less there is nothing to measure shares of
TORN = 0.25  # of what is gained in all, lost on one wish

Progress = Callable[[float, str], None]


@dataclass(slots=True, kw_only=True)
class Search:
    """One search: the stage, what counts on it, and every place looked at so far."""

    space: SearchSpace
    baseline: Setup
    benefit: Benefit
    guards: Guards
    archive: Archive
    seed: int
    evaluations: int
    progress: Progress | None
    told: float = 0.0
    favoured: dict[str, int | None] = field(default_factory=dict)

    @classmethod
    def begin(
        cls,
        space: SearchSpace,
        wishes: Sequence[Wish],
        seed: int,
        evaluations: int,
        progress: Progress | None,
        stop: Callable[[], bool] | None,
    ) -> "Search":
        """A search about to start, with straight on looked at."""
        baseline = space.baseline()
        vector = space.vector(baseline)
        named = dict(zip(space.names, vector.tolist(), strict=True))
        return cls(
            space=space,
            baseline=baseline,
            benefit=Benefit(wishes, space.names, vector),
            guards=Guards(make_guards(named), space.names),
            archive=Archive(
                lambda option, x: space.vector(space.setup_at(option, x)), stop or (lambda: False)
            ),
            seed=seed,
            evaluations=evaluations,
            progress=progress,
        )

    def tell(self, share: float, doing: str) -> None:
        """Tell whoever listens how far the search is, never less than before, and what it does."""
        self.told = max(self.told, share)
        if self.progress is not None:
            self.progress(self.told, say.STAGES[doing])

    def setup(self, point: Point) -> Setup:
        """The set-up of a place, on the grid."""
        return self.space.settled(point.option, point.x)

    def find(self) -> dict[str, Point]:
        """The set-ups by name, only those that really differ."""
        if not self.benefit.asks_for_change:
            return self._plain()
        self.tell(0.0, "screen")
        strongest = self._goal()
        places = self._first_places(strongest)
        self.tell(0.12, "strong")
        strong = self._seek(strongest, places, "strong", 0.27)
        most = self.benefit.total(strong.outcome)
        if most < LEAST_GAIN:
            return self._one_by_one(strongest) or self._plain(("balanced",))
        if self._is_torn(strong) and (apiece := self._one_by_one(strongest)):
            return apiece
        self.tell(0.45, "walk")
        stops = self._walk().stops(strong)
        return dict(zip(NAMES_OF[len(stops)], stops, strict=True))

    def _walk(self) -> Walk:
        return Walk(
            space=self.space,
            archive=self.archive,
            benefit=self.benefit,
            guards=self.guards,
            baseline=self.baseline,
        )

    def _is_torn(self, point: Point) -> bool:
        """Whether what serves some wishes takes a good part of it from another."""
        gains = self.benefit.by_wish(point.outcome)
        return float(gains.min()) < -TORN * float(gains.sum()) and self._can_serve(
            int(gains.argmin())
        )

    def _can_serve(self, wish: int) -> bool:
        """Whether any place within the guards serves a wish without costing the others more."""
        benefit = self._favouring(wish)
        return any(
            benefit.by_wish(point.outcome)[wish] >= LEAST_GAIN
            and benefit.total(point.outcome) > 0.0
            and not self.guards.broken(point.outcome)
            for point in self.archive.points
        )

    def _one_by_one(self, together: Goal) -> dict[str, Point]:
        """Where wishes cancel each other out: one set-up between them, one for each of two."""
        wishes = [i for i, w in enumerate(self.benefit.wishes) if w.direction != "leave"]
        if len(wishes) < 2:
            return {}
        heaviest = sorted(wishes, key=lambda i: -self.benefit.wishes[i].weight)[:2]
        found: list[tuple[Point, int | None]] = []
        for wish in (*heaviest, None):
            others = [self.setup(point) for point, _ in found]
            goal = replace(together, benefit=self._favouring(wish), apart_from=others)
            start = best(goal, self.archive.points)
            self.tell(0.45, STRENGTHS[len(found)])
            point = self._seek(goal, [start], STRENGTHS[len(found)], 0.15)
            serves = wish is None or goal.benefit.by_wish(point.outcome)[wish] >= LEAST_GAIN
            if serves and self._is_apart(goal, point):
                found.append((point, wish))
        if len(found) < 2:
            return {}
        found.sort(key=lambda pair: effort(self.baseline, self.setup(pair[0])))
        names = NAMES_OF[len(found)]
        self.favoured = {name: wish for name, (_, wish) in zip(names, found, strict=True)}
        return {name: point for name, (point, _) in zip(names, found, strict=True)}

    def benefit_of(self, name: str) -> Benefit:
        """What counts in one set-up: all wishes, or all stepping back before one."""
        return self._favouring(self.favoured.get(name))

    def _favouring(self, wish: int | None) -> Benefit:
        return self.benefit if wish is None else self.benefit.favouring(wish)

    def _is_apart(self, goal: Goal, point: Point) -> bool:
        setup = self.setup(point)
        return all(apart(setup, other) >= 1.0 - 1e-9 for other in goal.apart_from)

    def _plain(self, names: Sequence[str] = STRENGTHS) -> dict[str, Point]:
        """Pleasant set-ups that serve no wish, all turned and lit from the same side."""
        self.tell(0.0, "screen")
        found: dict[str, Point] = {}
        # What can't be helped must not be made worse for the sake of a look.
        floor = np.full(len(self.benefit.wishes), -HARDLY)
        first = replace(self._goal(), plain=PLAIN_LOOKS["balanced"], floor=floor)
        self._first_places(first)
        for done, name in enumerate(sorted(names, reverse=True)):
            self.tell(0.15 + 0.15 * done, name)
            others = [self.setup(point) for point in found.values()]
            goal = replace(
                first, plain=PLAIN_LOOKS[name], apart_from=others, beside=next(iter(others), None)
            )
            point = self._seek(goal, [best(goal, self.archive.points)], name, 0.15)
            if self._is_apart(goal, point) and sum(goal.wrong_side(self.setup(point))) == 0.0:
                found[name] = point
        return {name: found[name] for name in STRENGTHS if name in found}

    def _goal(self) -> Goal:
        return Goal(
            space=self.space, benefit=self.benefit, guards=self.guards, baseline=self.baseline
        )

    def _first_places(self, goal: Goal) -> list[Point]:
        return first_places(
            self.archive,
            self.space,
            goal,
            self.baseline,
            evaluations=self.evaluations,
            seed=self.seed,
        )

    def _seek(self, goal: Goal, starts: Sequence[Point], name: str, share: float) -> Point:
        """The best place found from some starts, brought onto the grid of what can be set."""
        seed = self.seed + 101 * STRENGTHS.index(name)
        budget = int(share * self.evaluations)
        found = list(starts)
        for index, start in enumerate(starts):
            part = int(0.75 * budget / len(starts))
            found.append(minimise(self.archive, goal, start, budget=part, seed=seed + index))
        return self._settled(goal, best(goal, found), 0.35 * share)

    def _settled(self, goal: Goal, start: Point, share: float) -> Point:
        """A place brought onto the grid, with no idle move and with room beside the far ear."""
        polished = polish(
            self.archive,
            goal,
            start,
            grid=self.space.snap,
            steps=self._strides(start.option),
            budget=int(share * self.evaluations),
        )
        easier = pruned(self.archive, self.space, goal, self.baseline, polished)
        return with_room(self.archive, self.space, goal, easier)

    def _strides(self, option: int) -> Vector:
        choice, free = self.space.choices[option], self.space.free_indices
        width = (choice.high - choice.low)[free]
        steps = np.array(
            [[move.step for move in self.space.free], [move.grid for move in self.space.free]]
        )
        return np.divide(steps, width, where=width > 0, out=np.ones_like(steps))
