"""Another way: one further set-up, apart from the stops, that serves another way about as well.

A cut into the forehead does by itself what chin and camera do for forehead and hair, so it is
offered as its own way, with no more of the pose than the other wishes ask for. Else the other side
is tried, then the key alone on the other side: one may suit the room, the hair's parting or a
limit better, and serves nearly as well on a face that is nearly even.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from itertools import chain

from sitwell.base.words import joined, tr
from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.goals import Goal
from sitwell.search.group import GroupSetup
from sitwell.search.simplify import pruned
from sitwell.search.solve import Archive, Point, best
from sitwell.search.walk import POSE

CROP_WISHES = frozenset({"forehead", "thinning-hair"})
# Design choices: what it must give of what the strong set-up gives, and from where on a face or a
# key is on a side.
AS_GOOD, HOPEFUL = 0.85, 0.5
LEAST = 0.5  # noticeable steps: with less there is nothing that another side could serve
SIDE_DEG = {"turn_deg": 4.0, "key_azimuth_deg": 10.0}
# What is brought to the other side, by the move that must have got there.
SIDES = {
    "turn_deg": ("turn_deg", "tilt_deg", "key_azimuth_deg"),
    "key_azimuth_deg": ("key_azimuth_deg",),
}
LOOKS = 60  # to bring such a set-up to its best


def asks_for_cut(wish: Wish) -> bool:
    """Whether a cut into the forehead may serve a wish."""
    return wish.feature in CROP_WISHES and wish.direction == "soften"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnotherWay:
    """The search for it; ``bettered`` betters a place within some looks, turns with room about."""

    goal: Goal
    archive: Archive
    is_sure: Callable[[GroupSetup, Point], bool]
    bettered: Callable[[Goal, Point, int], Point]

    def find(self, strong: Point) -> Point | None:
        """The way that is offered beside a strong set-up of one sitter, if there is one."""
        if not self.goal.space.is_of_one:
            return None
        return next(chain(self._cut(strong), self._mirrored(strong)), None)

    def _cut(self, strong: Point) -> Iterator[Point]:
        """A cut into the forehead, and of the pose what the other wishes alone ask for."""
        space = self.goal.space
        if not any(map(asks_for_cut, self.goal.benefits[0].wishes)):
            return
        others = self.goal.without(CROP_WISHES)
        mine, usual = (space.options[i].choice for i in (strong.option, space.usual))
        twins = [
            i
            for i, option in enumerate(space.options)
            if option.choice.crop == "into-forehead"
            and option.choice.light.name == mine.light.name
            and option.choice.focal_mm in (mine.focal_mm, usual.focal_mm)
        ]
        setup = space.settled(strong.option, strong.x)
        level = self._with_parts(setup, POSE, 0.0)
        starts = [self._at(i, place) for i in twins for place in (setup, level)]
        if starts:
            start = best(others, starts)
            if any(benefit.asks_for_change for benefit in others.benefits):
                start = self.bettered(others, start, LOOKS)
            point = pruned(self.archive, others, start)
            gained, left = (float(others.gains(p.outcome).sum()) for p in (strong, point))
            if self._holds(point, strong) and left >= AS_GOOD * gained:
                yield point

    def _mirrored(self, strong: Point) -> Iterator[Point]:
        """Face and key on the other side, then the key alone."""
        gained = self._gained(strong)
        if gained < LEAST:
            return
        setup = self.goal.space.settled(strong.option, strong.x)
        for told, names in SIDES.items():
            mirrored = self._with_parts(setup, names, -1.0)
            start = self._at(strong.option, mirrored)
            if not self._is_across(setup, start, told) or self._gained(start) < HOPEFUL * gained:
                continue
            straight = self._at(strong.option, self._with_parts(setup, names, 0.0))
            if self._gained(straight) > AS_GOOD * gained:
                continue  # a side on which nothing hangs is no way to a wish
            point = self.bettered(replace(self.goal, beside=mirrored), start, LOOKS)
            serves = self._gained(point) >= AS_GOOD * gained and self._holds(point, strong)
            if serves and self._is_across(setup, point, told):
                yield point

    def _with_parts(self, setup: GroupSetup, names: Collection[str], part: float) -> GroupSetup:
        """A set-up with some moves at a part of how far they are from straight on."""
        values = {}
        for who, move in self.goal.space.moves:
            if move.name in names:
                was = self.goal.baseline.value(who, move.name)
                values[who, move.name] = was + part * (setup.value(who, move.name) - was)
        return setup.with_values(values)

    def _is_across(self, setup: GroupSetup, point: Point, name: str) -> bool:
        """Whether a turn or a key lies clearly on one side here, on the other there."""
        other = self.goal.space.settled(point.option, point.x)
        first, second = (getattr(each.own(0), name) for each in (setup, other))
        return first * second < 0.0 and min(abs(first), abs(second)) >= SIDE_DEG[name]

    def _at(self, option: int, setup: GroupSetup) -> Point:
        space = self.goal.space
        return self.archive.at(option, space.snap(option, space.place_of(option, setup)))

    def _gained(self, point: Point) -> float:
        return float(self.goal.gains(point.outcome).sum())

    def _holds(self, point: Point, strong: Point) -> bool:
        broken = self.goal.broken(point.outcome).keys()
        setup = self.goal.space.settled(point.option, point.x)
        return broken <= self.goal.broken(strong.outcome).keys() and self.is_sure(setup, point)


def differing_words(strong: Setup, another: Setup) -> str:
    """What is other than in the strong set-up: side of face and key, cut, chin and lens."""
    turned, lit = another.turn_deg, another.key_azimuth_deg
    is_cut = another.crop == "into-forehead"
    parts = (
        tr(say.ANOTHER_CUT) if is_cut else "",
        tr(say.ANOTHER_TURN[turned > 0]) if turned * strong.turn_deg < 0 else "",
        tr(say.ANOTHER_STRAIGHT) if is_cut and abs(turned) < 1.0 else "",
        tr(say.ANOTHER_LEVEL) if is_cut and abs(another.seen_pose_deg()[1]) < 1.0 else "",
        tr(say.ANOTHER_KEY[lit > 0]) if lit * strong.key_azimuth_deg < 0 else "",
    )
    return joined([part for part in parts if part], ", ")
