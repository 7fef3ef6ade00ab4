"""The way back from the best set-up toward straight on, and the stops on it.

At each step that move, or part of one, is taken back that loses least for the effort it saves,
guards held. Gentle and balanced are stops on that way: they share side and key with the strong
set-up, ask for less and give less, and can be shot in order. Prices and gaps are design choices.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import product

import numpy as np

from sitwell.search.differences import differences
from sitwell.search.goals import Goal, effort
from sitwell.search.group import GroupSetup
from sitwell.search.moves import CHOICE_EFFORT, POSE_MOVES, Move
from sitwell.search.search_space import Vector
from sitwell.search.simplify import with_room
from sitwell.search.solve import Archive, Point

PARTS = (0.75, 0.5, 0.3, 0.15, 0.0)  # of a move left, where one step back breaks a guard
POSE = (*POSE_MOVES, "camera_height_mm")
KEY = ("key_azimuth_deg", "key_elevation_deg")
LIGHT = (*KEY, "key_distance_mm", "fill_ratio")
# Moves that belong together: taken back apart, each seems worse than it is.
TOGETHER = (
    ("turn_deg", "key_azimuth_deg"),
    ("chin_deg", "camera_height_mm", "key_elevation_deg"),
    (*LIGHT, "background_stops"),
)
KNEE = 0.95  # of the best gain; what the last twentieth costs is seldom worth it
STOPS = (0.7, 0.4)  # of the strong set-up's gain, about
LEAST_SHARE, LEAST_STEPS = 0.18, 0.5  # of its gain, and noticeable steps, that a stop must give
EACH_SHARE = 0.1  # of what it gives each wish that it serves: no stop is for one of them alone
GAP_SHARE, GAP_STEPS = 0.15, 0.25  # by which the next stop must give more
EASE = 0.5  # a share of the gain given for the same share of the effort
SAVED = 0.05  # natural steps of effort; less saves nothing
# Where the best is not sure: how far a turn is shifted, how many others are tried on every head,
# and how much of the gain may go for it.
BESIDE_DEG, MOST_TRIED, SURE_SHARE = (0.0, 2.0, 4.0, -2.0, -4.0), 12, 0.6
SEEN = 0.8  # of one difference that tells: side by side, a little less tells too

Owned = tuple[int | None, Move]  # a move, and whose it is


@dataclass(frozen=True, slots=True, eq=False)
class Stop:
    """A place on the way: its set-up, what it asks for, what it gives, and how it looks besides.

    ``each`` is what it gives each wish.
    """

    point: Point
    setup: GroupSetup
    effort: float
    gain: float
    each: Vector
    worth: float


@dataclass(slots=True, kw_only=True)
class Walk:
    """The way back from one set-up, of one sitter or several.

    ``is_sure`` says whether a set-up's guards hold on most of the heads that the sitters may have;
    stops that are not sure are passed over where there are others.
    """

    goal: Goal
    archive: Archive
    is_sure: Callable[[GroupSetup, Point], bool]
    _sure: dict[Point, bool] = field(default_factory=dict)

    def stops(self, strong: Point) -> list[Point]:
        """The strong set-up and up to two lesser ones on the way to it, the gentlest first."""
        tried = self._back(self._stop(strong))
        top = _knee(tried)
        if not self._is_sure(top):
            tried += self._beside(top)
            top = self._first_sure(_by_worth(tried), MOST_TRIED) or top
        tried += self._lattice(top)
        pairs = [
            (below, lowest)
            for below in self._below(tried, top, top)
            for lowest in self._below(tried, top, below)
        ]
        for below, lowest in sorted(pairs, key=partial(_off_stops, top))[:MOST_TRIED]:
            if self._is_sure(below) and self._is_sure(lowest):
                return [lowest.point, below.point, top.point]
        off = partial(_off, top, sum(STOPS) / len(STOPS))
        lesser = self._first_sure(sorted(self._below(tried, top, top), key=off), MOST_TRIED)
        return [top.point] if lesser is None else [lesser.point, top.point]

    def with_room(self, points: Sequence[Point]) -> list[Point]:
        """The same stops, each turn with room to either side where that leaves them in order."""
        above = self._stop(points[-1])
        found = [above]
        for point in points[-2::-1]:
            here, there = (
                self._stop(p) for p in (point, with_room(self.archive, self.goal, point))
            )
            gap = max(GAP_SHARE * found[0].gain, GAP_STEPS)
            fits = (
                there.gain <= above.gain - gap
                and there.gain >= LEAST_STEPS
                and there.effort < above.effort - SAVED
                and self._is_between(there.setup, above.setup)
                and self._is_sure(there)
            )
            above = there if fits else here
            found.append(above)
        return [stop.point for stop in reversed(found)]

    def _is_sure(self, stop: Stop) -> bool:
        if stop.point not in self._sure:
            self._sure[stop.point] = self.is_sure(stop.setup, stop.point)
        return self._sure[stop.point]

    def _first_sure(self, stops: Sequence[Stop], most: int) -> Stop | None:
        return next((stop for stop in stops[:most] if self._is_sure(stop)), None)

    def _beside(self, top: Stop) -> Iterator[Stop]:
        """Places near a stop where a guard may hold more surely: turns a little on, chins back."""
        allowed = set(self.goal.broken(top.point.outcome))
        turned, lifted = (
            {move: top.setup.value(move[0], name) for move in self._moves if move[1].name == name}
            for name in ("turn_deg", "chin_deg")
        )
        for on_deg, left in product(BESIDE_DEG, (1.0, 0.7, 0.4)):
            values = {(who, m.name): v + on_deg * np.sign(v) for (who, m), v in turned.items()}
            values |= {(who, m.name): left * v for (who, m), v in lifted.items()}
            stop = self._at(top.point.option, top.setup.with_values(values))
            if self._holds(stop, allowed):
                yield stop

    def _lattice(self, top: Stop) -> Iterator[Stop]:
        """Places between straight on and a stop: parts of pose, of the key, and of the rest."""
        allowed = set(self.goal.broken(top.point.outcome))
        for pose, key, rest in product((1.0, *PARTS), (1.0, *PARTS), (1.0, 0.5, 0.0)):
            if key < pose:  # the key goes back with the face, not before it
                continue
            parts = dict.fromkeys(POSE, pose) | dict.fromkeys(KEY, key)
            stop = self._with_parts(top, {m: parts.get(m[1].name, rest) for m in self._moves})
            if self._holds(stop, allowed):
                yield stop

    def _below(self, tried: Sequence[Stop], top: Stop, above: Stop) -> list[Stop]:
        """Places on the way to a stop that ask and give noticeably less, and still give enough."""
        least = max(LEAST_SHARE * top.gain, LEAST_STEPS)
        most = above.gain - max(GAP_SHARE * top.gain, GAP_STEPS)
        return _undominated(
            [
                stop
                for stop in tried
                if least <= stop.gain <= most
                and stop.effort < above.effort - SAVED
                and (
                    stop.each >= np.where(top.each > LEAST_STEPS, EACH_SHARE * top.each, -np.inf)
                ).all()
                and self._is_between(stop.setup, above.setup)
                and max(differences(stop.setup, above.setup).values()) >= SEEN
            ]
        )

    def _back(self, here: Stop) -> list[Stop]:
        """Every place looked at on the way back that keeps the guards, the way itself included."""
        allowed = set(self.goal.broken(here.point.outcome))
        tried = [here]
        while True:
            ahead = [s for s in self._steps(here, allowed) if s.effort < here.effort - SAVED]
            tried += ahead
            if not ahead:
                return tried
            here = min(ahead, key=partial(_loss, here))

    def _steps(self, here: Stop, allowed: set[tuple[int, str]]) -> Iterator[Stop]:
        moved = [move for move in self._moves if self._offset(here.setup, move) != 0.0]
        turned = any(move.name == "turn_deg" for _, move in moved)

        def bares_an_ear(group: Sequence[Owned]) -> bool:
            """A turned face keeps its light: the key back in front lights the nearer ear."""
            names = {move.name for _, move in group}
            return turned and KEY[0] in names and "turn_deg" not in names

        for each in moved:
            if bares_an_ear((each,)):
                continue
            back = max(0.0, 1.0 - each[1].step / abs(self._offset(here.setup, each)))
            parts = (back, *(part for part in PARTS if part < back))
            yield from self._first(here, (each,), parts, allowed)
            yield from self._first(here, (each,), (0.0,), allowed)
        for group in self._groups(moved):
            if not bares_an_ear(group):
                # Light is a package: half of it is another light, not less of the same.
                is_light = {move.name for _, move in group} <= {*LIGHT, "background_stops"}
                yield from self._first(here, group, (0.0,) if is_light else PARTS, allowed)
        yield from self._choices(here, allowed)

    def _groups(self, moved: Sequence[Owned]) -> list[list[Owned]]:
        """Moves to take back at once: for each sitter and for all what belongs together, and all.

        Several of them at least, and each group once.
        """
        everybody = tuple(range(len(self.goal.space.sitters)))
        found = [
            [(who, move) for who, move in moved if move.name in names and who in (None, *whose)]
            for names in TOGETHER
            for whose in (*((owner,) for owner in everybody), everybody)
        ]
        unique = {tuple((who, m.name) for who, m in g): g for g in (*found, list(moved))}
        return [group for group in unique.values() if len(group) > 1]

    def _first(
        self,
        here: Stop,
        moves: Sequence[Owned],
        parts: Sequence[float],
        allowed: set[tuple[int, str]],
    ) -> Iterator[Stop]:
        """The first of some parts of moves left that holds the guards."""
        for part in parts:
            stop = self._with_parts(here, dict.fromkeys(moves, part))
            if self._holds(stop, allowed):
                yield stop
                return

    def _choices(self, here: Stop, allowed: set[tuple[int, str]]) -> Iterator[Stop]:
        """Lens, crop or the row as straight on, everything else as it is."""
        options = self.goal.space.options
        mine, usual = options[here.point.option], options[self.goal.space.usual]
        for option, other in enumerate(options):
            same = (
                other.choice.focal_mm == mine.choice.focal_mm,
                other.choice.crop == mine.choice.crop,
                other.arrangement == mine.arrangement,
            )
            as_usual = (
                other.choice.focal_mm == usual.choice.focal_mm,
                other.choice.crop == usual.choice.crop,
                other.arrangement.is_plain and other.arrangement.order == mine.arrangement.order,
            )
            lit = other.choice.light.name == mine.choice.light.name
            if lit and sum(same) == len(same) - 1 and as_usual[same.index(False)]:
                stop = self._at(option, here.setup)
                if self._holds(stop, allowed):
                    yield stop

    @property
    def _moves(self) -> tuple[Owned, ...]:
        return self.goal.space.moves

    def _with_parts(self, here: Stop, parts: dict[Owned, float]) -> Stop:
        """A stop with parts of some moves left."""
        values = {}
        for (who, move), part in parts.items():
            start = move.coordinate(self.goal.baseline.value(who, move.name))
            by = part * self._offset(here.setup, (who, move))
            values[who, move.name] = move.value(start + by)
        return self._at(here.point.option, here.setup.with_values(values))

    def _at(self, option: int, setup: GroupSetup) -> Stop:
        space = self.goal.space
        return self._stop(
            self.archive.at(option, space.snap(option, space.place_of(option, setup)))
        )

    def _stop(self, point: Point) -> Stop:
        space = self.goal.space
        setup, own = space.settled(point.option, point.x), space.parts(point.outcome)[0]
        gain = float(self.goal.gains(point.outcome).sum())
        each, worth = self.goal.by_wish(own), gain - self.goal.look_price(setup, own)
        return Stop(point, setup, effort(self.goal.baseline, setup), gain, each, worth)

    def _holds(self, stop: Stop, allowed: set[tuple[int, str]]) -> bool:
        return self.goal.broken(stop.point.outcome).keys() <= allowed

    def _offset(self, setup: GroupSetup, owned: Owned) -> float:
        who, move = owned
        was, now = self.goal.baseline.value(who, move.name), setup.value(who, move.name)
        return move.coordinate(now) - move.coordinate(was)

    def _is_between(self, lesser: GroupSetup, above: GroupSetup) -> bool:
        """Whether every move of the lesser set-up lies between straight on and the other's."""
        for each in self._moves:
            mine, far = self._offset(lesser, each), self._offset(above, each)
            room = each[1].grid / 2 + 1e-9
            if not min(0.0, far) - room <= mine <= max(0.0, far) + room:
                return False
        plain = self.goal.baseline
        chosen = all(
            getattr(lesser.shared, name)
            in (getattr(plain.shared, name), getattr(above.shared, name))
            for name in CHOICE_EFFORT
        )
        return chosen and all(
            a.box_mm in (0.0, b.box_mm) and a.forward_mm in (0.0, b.forward_mm)
            for a, b in zip(lesser.places, above.places, strict=True)
        )


def _loss(here: Stop, there: Stop) -> float:
    """What a step back loses for each natural step of effort that it saves."""
    return (here.worth - there.worth) / (here.effort - there.effort)


def _off(top: Stop, share: float, stop: Stop) -> float:
    """How far a stop lies from giving a share of the strong one, dearer ones farther."""
    return abs(stop.gain / top.gain - share) + EASE * stop.effort / top.effort


def _off_stops(top: Stop, pair: tuple[Stop, Stop]) -> float:
    return sum(_off(top, share, stop) for stop, share in zip(pair, STOPS, strict=True))


def _knee(tried: Sequence[Stop]) -> Stop:
    """The easiest place that gives nearly all there is to gain, the light no worse."""
    best = max(tried, key=lambda stop: stop.worth)
    near = [s for s in tried if s.worth >= KNEE * best.worth and s.gain >= KNEE * best.gain]
    return min(near, key=lambda stop: stop.effort, default=best)


def _by_worth(tried: Sequence[Stop]) -> list[Stop]:
    """Some places that are worth most of what the best is, from the best on down."""
    best = max(stop.worth for stop in tried)
    each = {stop.point: stop for stop in tried if stop.worth >= SURE_SHARE * best}
    good = sorted(each.values(), key=lambda stop: -stop.worth)
    return good[:: math.ceil(len(good) / MOST_TRIED)]


def _undominated(stops: Sequence[Stop]) -> list[Stop]:
    """Places that no other one beats in both what it asks for and what it is worth."""
    return [
        stop
        for stop in stops
        if not any(
            other.effort < stop.effort - 1e-9 and other.worth >= stop.worth for other in stops
        )
    ]
