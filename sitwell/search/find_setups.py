"""The search for the set-ups: the strong one, then the stops on the way back from it.

One search for a lone sitter and for several: all faces at once. All parts of it look into one
archive, so a place that one of them looked at costs the others nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import repeat

import numpy as np

from sitwell.brief.wishes import HeightWish
from sitwell.search import sentences as say
from sitwell.search.another import AnotherWay
from sitwell.search.benefit import Benefit
from sitwell.search.differences import apart
from sitwell.search.goals import HARDLY, PLAIN_LOOKS, Goal, effort
from sitwell.search.group import GroupSetup
from sitwell.search.group_facts import group_guards
from sitwell.search.group_search_space import GroupSearchSpace
from sitwell.search.plan import ANOTHER
from sitwell.search.search_space import Vector
from sitwell.search.simplify import pruned, with_room
from sitwell.search.solve import Archive, Point, best, minimise, polish
from sitwell.search.spread import PossibleHeads, own_guards
from sitwell.search.starts import leapt, posed_places, spread_places
from sitwell.search.walk import Walk

STRENGTHS = ("gentle", "balanced", "strong")
NAMES_OF = {1: ("balanced",), 2: ("gentle", "strong"), 3: STRENGTHS}
LEAST_GAIN = 0.15  # noticeable steps in all; with less there is nothing to measure shares of
TORN = 0.25  # of what is gained in all, lost on one wish
TORN_SHARE, PLAIN_SHARE = 0.06, 0.12  # of the looks, for each set-up where no way leads back
NARROW = 0.08  # the first step of a group's search about a good place, in the unit box
ASKED_ALONE_ONLY = ("walls", "key out of picture", "crop", "near eye sharp", "far eye sharp",
                    "rim light off lens", "rim light in room")  # fmt: skip
EXACT = 1e-9

Progress = Callable[[float, str], None]


@dataclass(slots=True, kw_only=True)
class Search:
    """One search: what counts, and every place looked at so far.

    ``spreads`` starts from a spread over all choices, as serves the few moves of a lone sitter best
    (``benchmarks/lone_by_group.py``), not from everybody's best pose. ``favoured`` has, for a
    set-up that serves one wish of a torn sitter first, whose and which; None for one that stays
    between two.
    """

    space: GroupSearchSpace
    goal: Goal
    archive: Archive
    seed: int
    evaluations: int
    progress: Progress | None
    spreads: bool
    told: float = 0.0
    possible: tuple[PossibleHeads, ...] = ()
    favoured: dict[str, tuple[int, int | None]] = field(default_factory=dict)

    @classmethod
    def begin(
        cls,
        space: GroupSearchSpace,
        height: HeightWish,
        seed: int,
        evaluations: int,
        progress: Progress | None,
        stop: Callable[[], bool] | None,
    ) -> "Search":
        """A search about to start, with everybody straight on looked at."""

        def observe(option: int, x: Vector) -> Vector:
            return space.vector(space.setup_at(option, x), space.options[option].choice)

        baseline = space.baseline()
        base = space.vector(baseline, space.options[space.usual].choice)
        own, _ = space.parts(base)
        names = space.spaces[0].names
        goal = Goal(
            space=space,
            benefits=tuple(
                Benefit(sitter.wishes, names, vector)
                for sitter, vector in zip(space.sitters, own, strict=True)
            ),
            guards=tuple(map(own_guards, space.spaces, own, repeat(_dropped(space)))),
            together=group_guards(space.spaces[0].means.room),
            height=height,
            baseline=baseline,
            base=base,
        )
        return cls(
            space=space,
            goal=goal,
            archive=Archive(observe, stop or (lambda: False)),
            seed=seed,
            evaluations=evaluations,
            progress=progress,
            spreads=space.is_of_one,
        )

    def tell(self, share: float, doing: str) -> None:
        """Tell whoever listens how far the search is, never less than before, and what it does."""
        self.told = max(self.told, share)
        if self.progress is not None:
            self.progress(self.told, say.STAGES[doing])

    def setup(self, point: Point) -> GroupSetup:
        """The set-up of a place, on the grid."""
        return self.space.settled(point.option, point.x)

    def goal_of(self, name: str) -> Goal:
        """What counts in one set-up: all wishes, or a torn sitter's stepping back before one."""
        return self.goal.favouring(*self.favoured.get(name, (0, None)))

    @property
    def asks_for_change(self) -> bool:
        """Whether anything is wished for but to be left as it is."""
        asked = any(benefit.asks_for_change for benefit in self.goal.benefits)
        return asked or self.goal.height.direction != "leave"

    def find(self, on_strong: Callable[[GroupSetup], None] | None = None) -> dict[str, Point]:
        """The set-ups by name, only those that really differ; the strong one is told when found.

        Last, and apart from them, another way, if there is one.
        """
        if not self.asks_for_change:
            self._try_heads()
            return self._plain()
        strong = self.strong()
        self._try_heads()
        found = self._stops(strong, on_strong)
        self.tell(0.6, ANOTHER)
        way = AnotherWay(
            goal=self.goal, archive=self.archive, is_sure=self._is_sure, bettered=self._bettered
        )
        another = way.find(strong if self.favoured else list(found.values())[-1])
        return found if another is None else found | {ANOTHER: another}

    def _stops(
        self, strong: Point, on_strong: Callable[[GroupSetup], None] | None
    ) -> dict[str, Point]:
        """The stops on the way to the strong set-up; one for each wish where they are torn."""
        torn = self._torn(strong)
        if torn is not None and (apiece := self._one_by_one(torn, strong)):
            return apiece
        if self._total(strong) < LEAST_GAIN:
            return self._plain(("balanced",))
        if on_strong is not None:
            on_strong(self.setup(strong))
        self.tell(0.45, "walk")
        walk = Walk(goal=self.goal, archive=self.archive, is_sure=self._is_sure)
        stops = walk.with_room(walk.stops(strong))
        return dict(zip(NAMES_OF[len(stops)], stops, strict=True))

    def strong(self) -> Point:
        """What does the most for all wishes together."""
        self.tell(0.0, "screen")
        starts = self._first_places(self.goal)
        self.tell(0.12, "strong")
        return self._seek(self.goal, starts, "strong", 0.27)

    def _try_heads(self) -> None:
        """Make ready the other heads that the sitters may have."""
        self.tell(0.4, "heads")
        dropped, straight = _dropped(self.space), self.goal.baseline
        self.possible = tuple(
            PossibleHeads.of(space, sitter.possible(), straight.own(i), dropped)
            for i, (space, sitter) in enumerate(
                zip(self.space.spaces, self.space.sitters, strict=True)
            )
        )

    def _is_sure(self, setup: GroupSetup, point: Point) -> bool:
        """Whether the guards that a set-up keeps hold on most of the heads it may be of."""
        own, _ = self.space.parts(point.outcome)
        return all(
            heads.is_sure(setup.own(i), guards.held(vector))
            for i, (heads, guards, vector) in enumerate(
                zip(self.possible, self.goal.guards, own, strict=True)
            )
        )

    def _total(self, point: Point) -> float:
        return float(self.goal.gains(point.outcome).sum())

    def _torn(self, point: Point) -> int | None:
        """A sitter whose wishes cancel each other out here, and one of which could be served."""
        own, _ = self.space.parts(point.outcome)
        for owner, (benefit, vector) in enumerate(zip(self.goal.benefits, own, strict=True)):
            if sum(wish.direction != "leave" for wish in benefit.wishes) < 2:
                continue
            gains = benefit.by_wish(vector)
            total = float(gains.sum())
            cancelled = total < LEAST_GAIN or float(gains.min()) < -TORN * total
            if cancelled and self._can_serve(owner, int(gains.argmin())):
                return owner
        return None

    def _can_serve(self, owner: int, wish: int) -> bool:
        """Whether any place within the guards serves a wish without costing the others more."""
        goal = self.goal.favouring(owner, wish)
        for point in self.archive.points:
            if self._serves(goal, owner, wish, point) and not goal.broken(point.outcome):
                gains = goal.gains(point.outcome)
                if gains.sum() > 0.0 and (gains > -HARDLY).all():
                    return True
        return False

    def _serves(self, goal: Goal, owner: int, wish: int | None, point: Point) -> bool:
        own = self.space.parts(point.outcome)[0][owner]
        return wish is None or goal.benefits[owner].by_wish(own)[wish] >= LEAST_GAIN

    def _one_by_one(self, owner: int, strong: Point) -> dict[str, Point]:
        """One set-up for each of a torn sitter's two heaviest wishes, and one between them."""
        wishes, allowed = self.goal.benefits[owner].wishes, self.goal.broken(strong.outcome).keys()
        asked = [i for i, wish in enumerate(wishes) if wish.direction != "leave"]
        found: list[tuple[Point, int | None]] = []
        for wish in (*sorted(asked, key=lambda i: -wishes[i].weight)[:2], None):
            others = [self.setup(point) for point, _ in found]
            goal = replace(self.goal.favouring(owner, wish), apart_from=others)
            self.tell(0.45, STRENGTHS[len(found)])
            start = best(goal, self.archive.points)
            point = self._seek(goal, [start], STRENGTHS[len(found)], TORN_SHARE)
            holds = self.goal.broken(point.outcome).keys() <= allowed
            serves = holds and self._serves(goal, owner, wish, point)
            if serves and self._is_apart(goal, point):
                found.append((point, wish))
        if len(found) < 2:
            return {}
        found.sort(key=lambda pair: effort(self.goal.baseline, self.setup(pair[0])))
        names = NAMES_OF[len(found)]
        self.favoured = {n: (owner, wish) for n, (_, wish) in zip(names, found, strict=True)}
        return {name: point for name, (point, _) in zip(names, found, strict=True)}

    def _is_apart(self, goal: Goal, point: Point) -> bool:
        setup = self.setup(point)
        return all(apart(setup, other) >= 1.0 - EXACT for other in goal.apart_from)

    def _plain(self, names: Sequence[str] = NAMES_OF[2]) -> dict[str, Point]:
        """Pleasant set-ups that serve no wish, all turned and lit from the same side.

        One nearly straight on and one turned: what lies between is mostly a sliver of the far ear.
        """
        self.tell(0.0, "screen")
        found: dict[str, Point] = {}
        first = replace(self.goal, plain=PLAIN_LOOKS["balanced"])
        self._first_places(first)
        for done, name in enumerate(sorted(names, reverse=True)):
            self.tell(0.15 + 0.15 * done, name)
            others = [self.setup(point) for point in found.values()]
            goal = replace(
                first, plain=PLAIN_LOOKS[name], apart_from=others, beside=next(iter(others), None)
            )
            point = self._seek(goal, [best(goal, self.archive.points)], name, PLAIN_SHARE)
            setup = self.setup(point)
            spoilt = sum(goal.wrong_side(setup)) + (sum(goal.needless(setup)) if found else 0.0)
            if self._is_apart(goal, point) and spoilt == 0.0:
                found[name] = point
        return {name: found[name] for name in STRENGTHS if name in found}

    def _first_places(self, goal: Goal) -> list[Point]:
        start, evaluations = goal.baseline, self.evaluations
        self.archive.at(self.space.usual, self.space.place_of(self.space.usual, start))
        if self.spreads:
            return spread_places(self.archive, goal, evaluations=evaluations, seed=self.seed)
        return posed_places(self.archive, goal, evaluations=evaluations)

    def _seek(self, goal: Goal, starts: Sequence[Point], name: str, share: float) -> Point:
        """The best place found from some starts, brought onto the grid of what can be set."""
        seed = self.seed + 101 * STRENGTHS.index(name)
        budget = int(share * self.evaluations)
        near = (
            self._spread(goal, starts, budget, seed, leaps=name == "strong")
            if self.spreads
            else self._leaping(goal, starts, budget, seed)
        )
        polished = self._polished(goal, near, int(0.35 * share * self.evaluations))
        return with_room(self.archive, goal, pruned(self.archive, goal, polished))

    def _bettered(self, goal: Goal, start: Point, budget: int) -> Point:
        return with_room(self.archive, goal, self._polished(goal, start, budget))

    def _spread(
        self, goal: Goal, starts: Sequence[Point], budget: int, seed: int, *, leaps: bool
    ) -> Point:
        """A lone sitter's few moves: an evolution strategy from every start, then right across."""
        part = int(0.6 * budget / len(starts))
        found = [
            minimise(self.archive, goal, start, budget=part, seed=seed + index)
            for index, start in enumerate(starts)
        ]
        near = best(goal, [*starts, *found])
        if not leaps:  # where the strong one's have led, others start
            return near
        return leapt(self.archive, goal, near, evaluations=self.evaluations)

    def _leaping(self, goal: Goal, starts: Sequence[Point], budget: int, seed: int) -> Point:
        """The many moves of several: one after another, right across, then all about the best."""
        part = int(0.25 * budget / len(starts))
        found = []
        for start in starts:
            near = self._polished(goal, start, part)
            wide = leapt(self.archive, goal, near, evaluations=self.evaluations)
            found.append(self._polished(goal, self._in_any_row(goal, wide), part))
        near, part = best(goal, found), int(0.3 * budget)
        wider = minimise(self.archive, goal, near, budget=part, seed=seed, width=NARROW)
        return best(goal, [near, wider])

    def _in_any_row(self, goal: Goal, here: Point) -> Point:
        """The same poses and light where everybody stands in the row that serves best."""
        space, setup = self.space, self.setup(here)
        rows = (self.archive.at(i, space.place_of(i, setup)) for i in range(len(space.options)))
        return best(goal, [here, *rows])

    def _polished(self, goal: Goal, start: Point, budget: int) -> Point:
        moves, width = self.space.moves, self.space.widths(start.option)
        steps = np.array([[move.step for _, move in moves], [move.grid for _, move in moves]])
        return polish(
            self.archive,
            goal,
            start,
            grid=self.space.snap,
            steps=np.divide(steps, width, where=width > 0, out=np.ones_like(steps)),
            budget=budget,
        )


def _dropped(space: GroupSearchSpace) -> tuple[str, ...]:
    """Guards of a lone sitter that are asked of a group instead."""
    return () if space.is_of_one else ASKED_ALONE_ONLY
