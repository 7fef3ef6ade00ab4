"""The search for the three set-ups: strong first, then the least effort for a share of it.

All of them look into one archive, so a place that one of them looked at costs the others nothing.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.benefit import Benefit
from sitwell.search.goals import PLAIN_LOOKS, Goal, apart, effort
from sitwell.search.guards import Guards, make_guards
from sitwell.search.solve import Archive, Point, best, merit, minimise, polish, screen
from sitwell.search.stage import Stage, Vector

STRENGTHS = ("gentle", "balanced", "strong")
SHARES = {"gentle": 0.35, "balanced": 0.7}  # of what the strong set-up does
LEAST_GAIN = 0.15  # noticeable steps in all; with less there is nothing to measure shares of
HARDLY = 0.2  # noticeable steps that no one would miss

Progress = Callable[[float, str], None]


@dataclass(slots=True, kw_only=True)
class Search:
    """One search: the stage, what counts on it, and every place looked at so far."""

    stage: Stage
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
        stage: Stage,
        wishes: Sequence[Wish],
        fuller_side: str | None,
        seed: int,
        evaluations: int,
        progress: Progress | None,
        stop: Callable[[], bool] | None,
    ) -> "Search":
        """A search about to start, with straight on looked at."""
        baseline = stage.baseline()
        vector = stage.look(baseline)
        named = dict(zip(stage.names, vector.tolist(), strict=True))
        return cls(
            stage=stage,
            baseline=baseline,
            benefit=Benefit(wishes, stage.names, vector, fuller_side),
            guards=Guards(make_guards(named), stage.names),
            archive=Archive(
                lambda option, x: stage.look(stage.setup_at(option, x)), stop or (lambda: False)
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
        return self.stage.settled(point.option, point.x)

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
            return self._one_by_one(strongest) or self._plain()
        found = {"strong": strong}
        for share_done, name in ((0.45, "balanced"), (0.6, "gentle")):
            self.tell(share_done, name)
            goal = replace(
                strongest,
                floor=_floor(self.benefit.by_wish(strong.outcome), SHARES[name]),
                apart_from=[self.setup(point) for point in found.values()],
            )
            start = best(goal, [*self._between(strong), *self.archive.points])
            point = self._seek(goal, [start], name, 0.13)
            # A set-up that falls short of its floor is still another way, if it differs.
            if self._is_apart(goal, point):
                found[name] = point
        return self._in_order(found)

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
        names = STRENGTHS if len(found) == 3 else ("gentle", "strong")
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

    def _plain(self) -> dict[str, Point]:
        self.tell(0.0, "screen")
        found: dict[str, Point] = {}
        # What can't be helped must not be made worse for the sake of a look.
        floor = np.full(len(self.benefit.wishes), -HARDLY)
        goals = {
            name: replace(self._goal(), plain=look, floor=floor)
            for name, look in PLAIN_LOOKS.items()
        }
        self._first_places(goals["balanced"])
        for done, (name, goal) in enumerate(goals.items()):
            self.tell(0.15 + 0.15 * done, name)
            goal = replace(goal, apart_from=[self.setup(point) for point in found.values()])
            point = self._seek(goal, [best(goal, self.archive.points)], name, 0.15)
            if self._is_apart(goal, point):
                found[name] = point
        return found

    def _goal(self) -> Goal:
        return Goal(
            stage=self.stage, benefit=self.benefit, guards=self.guards, baseline=self.baseline
        )

    def _first_places(self, goal: Goal) -> list[Point]:
        """A screen over lenses, crops and lights, and the best places of the best choices."""
        self.archive.at(self.stage.usual, self.stage.place_of(self.stage.usual, self.baseline))
        options = range(len(self.stage.choices))
        count = max(16, int(0.5 * 0.14 * self.evaluations / len(options) ** 0.5) // 4 * 4)
        order = screen(
            self.archive,
            goal,
            options=options,
            dimensions=len(self.stage.free_indices),
            count=count,
            seed=self.seed,
        )
        likely = [point for point in self.archive.points if point.option in order[:2]]
        ranked = sorted(likely, key=lambda point: merit(goal, point))
        return _scattered(ranked, 3)

    def _between(self, strong: Point) -> list[Point]:
        """Places on the straight way to the strong set-up, also with the key on the other side."""
        stage, points = self.stage, []
        setup = self.setup(strong)
        mirrored = setup.with_changes(key_azimuth_deg=-setup.key_azimuth_deg)
        for option in sorted({strong.option, stage.usual}):
            here = stage.place_of(option, self.baseline)
            for end in (setup, mirrored):
                there = stage.place_of(option, end)
                points += [
                    self.archive.at(option, here + share * (there - here))
                    for share in (0.15, 0.3, 0.45, 0.6, 0.8, 1.0)
                ]
        return points

    def _seek(self, goal: Goal, starts: Sequence[Point], name: str, share: float) -> Point:
        """The best place found from some starts, brought onto the grid of what can be set."""
        seed = self.seed + 101 * STRENGTHS.index(name)
        budget = int(share * self.evaluations)
        found = list(starts)
        for index, start in enumerate(starts):
            part = int(0.75 * budget / len(starts))
            found.append(minimise(self.archive, goal, start, budget=part, seed=seed + index))
        start = best(goal, found)
        polished = polish(
            self.archive,
            goal,
            start,
            grid=self.stage.snap,
            steps=self._strides(start.option),
            budget=int(0.35 * budget),
        )
        return self._pruned(goal, polished)

    def _pruned(self, goal: Goal, here: Point) -> Point:
        """Moves that pay for nothing taken back to straight on: fewer moves are easier to hold."""
        neutral = self.stage.place_of(here.option, self.baseline)
        for index in range(neutral.size):
            place = here.x.copy()
            place[index] = neutral[index]
            there = self.archive.at(here.option, self.stage.snap(here.option, place))
            here = min(here, there, key=lambda point: merit(goal, point))
        return here

    def _strides(self, option: int) -> Vector:
        choice, free = self.stage.choices[option], self.stage.free_indices
        width = (choice.high - choice.low)[free]
        steps = np.array(
            [[move.step for move in self.stage.free], [move.grid for move in self.stage.free]]
        )
        return np.divide(steps, width, where=width > 0, out=np.ones_like(steps))

    def _in_order(self, found: Mapping[str, Point]) -> dict[str, Point]:
        """Names by what the set-ups really do, so that strong is never the weaker one."""
        points = sorted(found.values(), key=lambda point: self.benefit.total(point.outcome))
        names = STRENGTHS[len(STRENGTHS) - len(points) :] if len(points) > 1 else ("balanced",)
        return dict(zip(names, points, strict=True))


def _floor(gains: Vector, share: float) -> Vector:
    """A share of what each wish gains; what the strong set-up gives up may be given up here too."""
    return np.where(gains > 0, share * gains, gains - 0.1)


def _scattered(ranked: Sequence[Point], count: int, gap: float = 0.35) -> list[Point]:
    """The best few places that are not neighbours of a better one."""
    kept: list[Point] = []
    for point in ranked:
        near = [k for k in kept if k.option == point.option and np.abs(k.x - point.x).max() < gap]
        if not near:
            kept.append(point)
        if len(kept) == count:
            break
    return kept
