"""The search for a group's set-ups: all faces at once, the strong one first, then what eases it."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from sitwell.brief.wishes import HeightWish
from sitwell.search import sentences as say
from sitwell.search.benefit import Benefit
from sitwell.search.find_setups import LEAST_GAIN, NAMES_OF, STRENGTHS, TORN, Progress
from sitwell.search.goals import PLAIN_LOOKS
from sitwell.search.group import GroupSetup
from sitwell.search.group_facts import group_guards
from sitwell.search.group_goal import GroupGoal, apart_groups
from sitwell.search.group_search_space import GroupSearchSpace
from sitwell.search.guards import Guards, make_guards
from sitwell.search.search_space import Vector
from sitwell.search.simplify import HARDLY, UNSEEN
from sitwell.search.solve import Archive, Point, best, merit, minimise, polish

# Moves that are tried right across their range: a far ear is gone after a large turn only, and a
# search by small steps does not get there.
LEAPING = ("turn_deg", "chin_deg", "key_azimuth_deg", "camera_height_mm")
LEAPING_POSE = ("turn_deg", "chin_deg")
LEAPS, FEWEST_LEAPS = 17, 7
KEYS_DEG, HEIGHTS_MM = (-25.0, 0.0, 25.0), (-150.0, 0.0, 150.0)
STARTS, WIDTH = 2, 0.08
BROKEN_PRICE = 3.0  # noticeable steps for a unit of violation, where a start is looked for
ASKED_ALONE_ONLY = ("walls", "key out of picture", "crop", "near eye sharp", "far eye sharp",
                    "rim light off lens", "rim light in room")  # fmt: skip
NOTICED = 1.25  # noticeable steps in all: what a viewer sees helping
KEPT = {"gentle": 0.15, "balanced": 0.35}  # of what the strong set-up does for each wish
# Of what the strong set-up does; with more, a lesser one is a second strong one.
NOT_MOST = {"gentle": 0.6, "balanced": 0.8}
GIVEN_UP = 0.3  # noticeable steps that a wish may lose more than in the strong set-up
EXACT = 1e-9


@dataclass(slots=True, kw_only=True)
class GroupSearch:
    """One search over all faces: the goal, and every place looked at so far."""

    space: GroupSearchSpace
    goal: GroupGoal
    archive: Archive
    seed: int
    evaluations: int
    progress: Progress | None
    told: float = 0.0
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
    ) -> "GroupSearch":
        """A search about to start, with everybody straight on looked at."""

        def observe(option: int, x: Vector) -> Vector:
            return space.vector(space.setup_at(option, x), space.options[option].choice)

        baseline = space.baseline()
        base = space.vector(baseline, space.options[space.usual].choice)
        own, _ = space.parts(base)
        names = space.spaces[0].names
        guards = [_own_guards(dict(zip(names, v.tolist(), strict=True)), names) for v in own]
        goal = GroupGoal(
            space=space,
            benefits=tuple(
                Benefit(sitter.wishes, names, vector)
                for sitter, vector in zip(space.sitters, own, strict=True)
            ),
            guards=tuple(guards),
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
        )

    def tell(self, share: float, doing: str) -> None:
        """Tell whoever listens how far the search is, never less than before, and what it does."""
        self.told = max(self.told, share)
        if self.progress is not None:
            self.progress(self.told, say.STAGES[doing])

    def total(self, point: Point) -> float:
        """What a place does for all wishes."""
        return float(self.goal.gains(point.outcome).sum())

    def setup(self, point: Point) -> GroupSetup:
        """The group's set-up at a place, on the grid."""
        return self.space.settled(point.option, point.x)

    def find(self) -> dict[str, Point]:
        """The set-ups by name, only those that really differ."""
        asks = any(b.asks_for_change for b in self.goal.benefits)
        if not asks and self.goal.height.direction == "leave":
            return self._plain()
        self.tell(0.0, "screen")
        starts = self._starts(self.goal)
        self.tell(0.25, "strong")
        strong = self._seek(self.goal, starts, 0.35, 0)
        torn = self._torn(strong)
        if torn is not None and (apiece := self._one_by_one(torn)):
            return apiece
        if self.total(strong) < LEAST_GAIN:
            return self._plain()
        found = {"strong": strong}
        for done, name in ((0.55, "gentle"), (0.7, "balanced")):
            self.tell(done, name)
            if (point := self._lesser(found, name)) is not None:
                found[name] = point
        points = sorted(found.values(), key=self.total)
        return dict(zip(NAMES_OF[len(points)], points, strict=True))

    def _lesser(self, found: Mapping[str, Point], name: str) -> Point | None:
        """The least effort that still helps enough and differs from what was found."""
        strong = found["strong"]
        most = max(self.total(point) for point in found.values())
        gentle = min(NOTICED, 0.5 * most)
        halfway = min(2.0 * NOTICED, math.sqrt(gentle * most))
        gains = self.goal.gains(strong.outcome)
        goal = replace(
            self.goal,
            most=NOT_MOST[name] * most,
            least=halfway if name == "balanced" else gentle,
            floor=np.where(gains > 0, KEPT[name] * gains, gains - GIVEN_UP),
            apart_from=[self.setup(point) for point in found.values()],
        )
        ways = best(goal, self._ways_to(strong))
        point = self._seek(goal, [best(goal, self.archive.points), ways], 0.25, 1)
        if merit(goal, point)[0] <= EXACT:
            return point
        # where a share for each can't be had, the sum will do; else there is no such set-up
        together = replace(goal, floor=None)
        near = self._polished(together, best(together, self.archive.points), self.evaluations // 12)
        easier = self.goal.effort(self.setup(near)) <= self.goal.effort(self.setup(strong))
        return near if easier and merit(together, near)[0] <= EXACT else None

    def _torn(self, point: Point) -> int | None:
        """A sitter whose wishes cancel each other out here, and one of which could be served."""
        own, _ = self.space.parts(point.outcome)
        for owner, (benefit, vector) in enumerate(zip(self.goal.benefits, own, strict=True)):
            wishes = [w for w in benefit.wishes if w.direction != "leave"]
            if len(wishes) < 2:
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
            if self.goal.broken(point.outcome):
                continue
            own, _ = self.space.parts(point.outcome)
            served = goal.benefits[owner].by_wish(own[owner])[wish] >= LEAST_GAIN
            if served and (goal.gains(point.outcome)[: len(own)] > -HARDLY).all():
                return True
        return False

    def _one_by_one(self, owner: int) -> dict[str, Point]:
        """One set-up for each of a torn sitter's two heaviest wishes, and one between them."""
        wishes = self.goal.benefits[owner].wishes
        asked = [i for i, wish in enumerate(wishes) if wish.direction != "leave"]
        found: list[tuple[Point, int | None]] = []
        for wish in (*sorted(asked, key=lambda i: -wishes[i].weight)[:2], None):
            others = [self.setup(point) for point, _ in found]
            goal = replace(self._favouring(owner, wish), apart_from=others)
            self.tell(0.5, STRENGTHS[len(found)])
            point = self._seek(goal, [best(goal, self.archive.points)], 0.2, len(found))
            own, _ = self.space.parts(point.outcome)
            served = wish is None or goal.benefits[owner].by_wish(own[owner])[wish] >= LEAST_GAIN
            if served and not goal.broken(point.outcome) and self._is_apart(goal, point):
                found.append((point, wish))
        if len(found) < 2:
            return {}
        found.sort(key=lambda pair: self.goal.effort(self.setup(pair[0])))
        names = NAMES_OF[len(found)]
        self.favoured = {n: (owner, wish) for n, (_, wish) in zip(names, found, strict=True)}
        return {name: point for name, (point, _) in zip(names, found, strict=True)}

    def goal_of(self, name: str) -> GroupGoal:
        """What counts in one set-up: all wishes, or a torn sitter's stepping back before one."""
        return self._favouring(*self.favoured.get(name, (0, None)))

    def _favouring(self, owner: int, wish: int | None) -> GroupGoal:
        return self.goal if wish is None else self.goal.favouring(owner, wish)

    def _is_apart(self, goal: GroupGoal, point: Point) -> bool:
        setup = self.setup(point)
        return all(apart_groups(setup, other) >= 1.0 - EXACT for other in goal.apart_from)

    def _plain(self) -> dict[str, Point]:
        """Pleasant set-ups where nobody wishes for a change."""
        self.tell(0.0, "screen")
        found: dict[str, Point] = {}
        # what can't be helped must not be made worse for the sake of a look
        floor = np.full(len(self.goal.benefits) + 1, -HARDLY)
        for done, (name, look) in enumerate(PLAIN_LOOKS.items()):
            others = [self.setup(point) for point in found.values()]
            goal = replace(self.goal, plain=look, floor=floor, apart_from=others)
            starts = self._starts(goal)[:1] if not found else [best(goal, self.archive.points)]
            self.tell(0.15 + 0.2 * done, name)
            point = self._seek(goal, starts, 0.15, done)
            if self._is_apart(goal, point):
                found[name] = point
        return found

    def _starts(self, goal: GroupGoal) -> list[Point]:
        """Places to start from: everybody's best pose under each of a few keys and heights.

        Under one camera and key each sitter's pose can be chosen without the others': the looks at
        one sitter are shared by every group that has them so.
        """
        usual, neutral = self.space.usual, goal.baseline
        base = self.archive.at(usual, self.space.place_of(usual, neutral))
        found = [base]
        for key_deg, height_mm in product(KEYS_DEG, HEIGHTS_MM):
            shared = neutral.shared.with_changes(
                key_azimuth_deg=key_deg, camera_height_mm=height_mm
            )
            place = self.space.place_of(usual, replace(neutral, shared=shared))
            found.append(self._posed(goal, self.archive.at(usual, place)))
        ranked = sorted(found, key=lambda point: merit(goal, point))[:STARTS]
        starts: dict[int, Point] = {}
        for point in ranked:
            for there in self._rearranged(goal, point):
                starts.setdefault(id(there), there)
        return list(starts.values())

    def _posed(self, goal: GroupGoal, start: Point) -> Point:
        """A place with each sitter's best turn and chin, each chosen while the others are still."""
        place = start.x.copy()
        for owner in range(len(self.space.sitters)):
            here = start
            for name in LEAPING_POSE:
                here = self._leap(goal, here, self._index(owner, name))
            mine = [self._index(owner, name) for name in LEAPING_POSE]
            place[mine] = here.x[mine]
        return best(goal, [start, self.archive.at(start.option, place)])

    def _rearranged(self, goal: GroupGoal, here: Point) -> list[Point]:
        """The same with everybody in other places, then with other lenses and lights.

        The best that keeps the guards, and the best that hardly breaks them: another place needs
        a touch of another pose, which the polish finds.
        """

        def nearly(point: Point) -> float:
            broken, cost = merit(goal, point)
            return cost + BROKEN_PRICE * broken

        options, setup = self.space.options, self.setup(here)
        likely = here
        for same in ("index", "arrangement"):
            kept = getattr(options[likely.option], same)
            others = [i for i, option in enumerate(options) if getattr(option, same) == kept]
            found = [self.archive.at(i, self.space.place_of(i, setup)) for i in others]
            here = best(goal, [here, *found])
            likely = min([likely, *found], key=nearly)
        return [here, likely]

    def _leapt(self, goal: GroupGoal, here: Point) -> Point:
        """The best of a place and of single moves right across their range, one after another."""
        for index, (_, move) in enumerate(self.space.moves):
            if move.name in LEAPING:
                here = self._leap(goal, here, index)
        return here

    def _leap(self, goal: GroupGoal, here: Point, index: int) -> Point:
        # odd, so that the middle of the range is one of them
        count = int(np.clip(self.evaluations // 35, FEWEST_LEAPS, LEAPS)) // 2 * 2 + 1
        places = np.repeat(here.x[None, :], count, axis=0)
        places[:, index] = np.linspace(0.0, 1.0, count)
        return best(goal, [here, *(self.archive.at(here.option, x) for x in places)])

    def _index(self, owner: int, name: str) -> int:
        moves = self.space.moves
        return next(i for i, (who, m) in enumerate(moves) if who == owner and m.name == name)

    def _ways_to(self, strong: Point) -> list[Point]:
        """Places on the straight way to a found one, in its row and in the plain one."""
        setup, points = self.setup(strong), []
        for option in sorted({strong.option, self.space.usual}):
            here = self.space.place_of(option, self.goal.baseline)
            way = self.space.place_of(option, setup) - here
            points += [self.archive.at(option, here + share * way) for share in (0.3, 0.5, 0.7)]
        return points

    def _seek(self, goal: GroupGoal, starts: Sequence[Point], share: float, turn: int) -> Point:
        """The best place found from some starts, on the grid, without idle moves."""
        budget = int(share * self.evaluations)
        part = int(0.25 * budget / len(starts))
        found = [self._polished(goal, start, part) for start in starts]
        found = [self._polished(goal, self._leapt(goal, point), part) for point in found]
        near = best(goal, found)
        seed = self.seed + turn
        wider = minimise(self.archive, goal, near, budget=int(0.3 * budget), seed=seed, width=WIDTH)
        return self._pruned(goal, self._polished(goal, best(goal, [near, wider]), part))

    def _polished(self, goal: GroupGoal, start: Point, budget: int) -> Point:
        option, space = self.space.options[start.option], self.space
        width = option.high - option.low
        steps = np.array([[m.step for _, m in space.moves], [m.grid for _, m in space.moves]])
        return polish(
            self.archive,
            goal,
            start,
            grid=lambda index, x: space.place_of(index, space.settled(index, x)),
            steps=np.divide(steps, width, where=width > 0, out=np.ones_like(steps)),
            budget=budget,
        )

    def _pruned(self, goal: GroupGoal, here: Point) -> Point:
        """Moves taken back to straight on, one at a time, where they pay for nothing."""
        neutral = self.space.place_of(here.option, goal.baseline)
        option = self.space.options[here.option]
        half = np.array([0.5 * move.step for _, move in self.space.moves])
        for index in np.flatnonzero(here.x != neutral):
            place = here.x.copy()
            place[index] = neutral[index]
            there = self.archive.at(here.option, place)
            by = abs(place[index] - here.x[index]) * (option.high - option.low)[index]
            spared = UNSEEN if by < half[index] else 0.0
            broken, cost = merit(goal, there)
            if (broken, cost - spared) < merit(goal, here):
                here = there
        return here


def _own_guards(baseline: Mapping[str, float], names: Sequence[str]) -> Guards:
    """One sitter's guards, without those that are asked of the whole group instead."""
    kept = [guard for guard in make_guards(baseline) if guard.name not in ASKED_ALONE_ONLY]
    return Guards(kept, names)
