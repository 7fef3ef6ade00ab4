"""The way back from the best set-up toward straight on, and the stops on it.

At each step that move, or part of one, is taken back that loses least for the effort it saves,
guards held. Gentle and balanced are stops on that way: they share side and key with the strong
set-up, ask for less and give less, and can be shot in order. Prices and gaps are design choices.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product

from sitwell.scene.setup import Setup
from sitwell.search.benefit import Benefit
from sitwell.search.differences import differences
from sitwell.search.goals import PLEASANT_PRICE, effort, unpleasantness
from sitwell.search.guards import Guards
from sitwell.search.moves import CHOICE_EFFORT, MOVE_BY_NAME, POSE_MOVES, Move
from sitwell.search.search_space import SearchSpace
from sitwell.search.solve import Archive, Point

PARTS = (0.75, 0.5, 0.3, 0.2, 0.0)  # of a move left, where one step back breaks a guard
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
GAP_SHARE, GAP_STEPS = 0.15, 0.25  # by which the next stop must give more
EASE = 0.5  # a share of the gain given for the same share of the effort
SAVED = 0.05  # natural steps of effort; less saves nothing
SEEN = 0.8  # of one difference that tells: side by side, a little less tells too


@dataclass(frozen=True, slots=True, eq=False)
class Stop:
    """A place on the way: its set-up, what it asks for, what it gives, and how it looks besides."""

    point: Point
    setup: Setup
    effort: float
    gain: float
    worth: float


@dataclass(slots=True, kw_only=True)
class Walk:
    """The way back from one set-up; ``tried`` keeps every place on and beside it that holds."""

    space: SearchSpace
    archive: Archive
    benefit: Benefit
    guards: Guards
    baseline: Setup

    def stops(self, strong: Point) -> list[Point]:
        """The strong set-up and up to two lesser ones on the way to it, the gentlest first."""
        tried = self._back(self._stop(strong))
        top = _knee(tried)
        tried += self._lattice(top)
        pairs = [
            (below, lowest)
            for below in self._below(tried, top, top)
            for lowest in self._below(tried, top, below)
        ]
        if pairs:
            kept = min(pairs, key=partial(_off_stops, top))
            return [kept[1].point, kept[0].point, top.point]
        single = self._below(tried, top, top)
        lesser = min(single, key=partial(_off, top, sum(STOPS) / len(STOPS)), default=None)
        return [top.point] if lesser is None else [lesser.point, top.point]

    def _lattice(self, top: Stop) -> Iterator[Stop]:
        """Places between straight on and a stop: parts of pose, of the key, and of the rest."""
        allowed = {guard.name for guard in self.guards.broken(top.point.outcome)}
        bundles = (POSE, KEY, tuple(m.name for m in self.space.free if m.name not in POSE + KEY))
        for parts in product((1.0, *PARTS), (1.0, *PARTS), (1.0, 0.5, 0.0)):
            if parts[1] < parts[0]:  # the key goes back with the face, not before it
                continue
            values = {
                name: self._part(top.setup, MOVE_BY_NAME[name], part)
                for names, part in zip(bundles, parts, strict=True)
                for name in names
            }
            stop = self._at(top.point.option, top.setup.with_changes(**values))
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
                and _is_between(self.baseline, stop.setup, above.setup)
                and max(differences(stop.setup, above.setup).values()) >= SEEN
            ]
        )

    def _back(self, here: Stop) -> list[Stop]:
        """Every place looked at on the way back that keeps the guards, the way itself included."""
        allowed = {guard.name for guard in self.guards.broken(here.point.outcome)}
        tried = [here]
        while True:
            ahead = [s for s in self._steps(here, allowed) if s.effort < here.effort - SAVED]
            tried += ahead
            if not ahead:
                return tried
            here = min(ahead, key=partial(_loss, here))

    def _steps(self, here: Stop, allowed: set[str]) -> Iterator[Stop]:
        moved = [m for m in self.space.free if self._offset(here.setup, m) != 0.0]
        turned = any(move.name == "turn_deg" for move in moved)

        def bares_an_ear(names: Sequence[str]) -> bool:
            """A turned face keeps its light: the key back in front lights the nearer ear."""
            return turned and KEY[0] in names and "turn_deg" not in names

        for move in moved:
            if bares_an_ear((move.name,)):
                continue
            whole = self._offset(here.setup, move)
            back = max(0.0, 1.0 - move.step / abs(whole))
            yield from self._first(here, (move,), (back, *(p for p in PARTS if p < back)), allowed)
            yield from self._first(here, (move,), (0.0,), allowed)
        for names in (*TOGETHER, tuple(move.name for move in moved)):
            group = [MOVE_BY_NAME[name] for name in names if MOVE_BY_NAME[name] in moved]
            if len(group) > 1 and not bares_an_ear(names):
                # Light is a package: half of it is another light, not less of the same.
                parts = (0.0,) if LIGHT[0] in names[:1] else PARTS
                yield from self._first(here, group, parts, allowed)
        yield from self._choices(here, allowed)

    def _first(
        self, here: Stop, moves: Sequence[Move], parts: Sequence[float], allowed: set[str]
    ) -> Iterator[Stop]:
        """The first of some parts of moves left that holds the guards."""
        for part in parts:
            values = {move.name: self._part(here.setup, move, part) for move in moves}
            stop = self._at(here.point.option, here.setup.with_changes(**values))
            if self._holds(stop, allowed):
                yield stop
                return

    def _choices(self, here: Stop, allowed: set[str]) -> Iterator[Stop]:
        """Lens or crop as straight on, everything else as it is."""
        choices = self.space.choices
        mine, usual = choices[here.point.option], choices[self.space.usual]
        for lens, crop in ((usual, mine.crop), (mine, usual.crop)):
            wanted = (lens.focal_mm, crop, mine.light.name)
            for option, choice in enumerate(choices):
                same = (choice.focal_mm, choice.crop, choice.light.name) == wanted
                if same and option != here.point.option:
                    stop = self._at(option, here.setup)
                    if self._holds(stop, allowed):
                        yield stop
                    break

    def _at(self, option: int, setup: Setup) -> Stop:
        place = self.space.snap(option, self.space.place_of(option, setup))
        return self._stop(self.archive.at(option, place))

    def _stop(self, point: Point) -> Stop:
        setup = self.space.settled(point.option, point.x)
        gain = self.benefit.total(point.outcome)
        look = PLEASANT_PRICE * unpleasantness(self.space, point.outcome)
        return Stop(point, setup, effort(self.baseline, setup), gain, gain - look)

    def _holds(self, stop: Stop, allowed: set[str]) -> bool:
        return all(g.name in allowed for g in self.guards.broken(stop.point.outcome))

    def _part(self, setup: Setup, move: Move, part: float) -> float:
        """A move's value with a part of it left."""
        start = move.coordinate(getattr(self.baseline, move.name))
        return move.value(start + part * self._offset(setup, move))

    def _offset(self, setup: Setup, move: Move) -> float:
        return move.coordinate(getattr(setup, move.name)) - move.coordinate(
            getattr(self.baseline, move.name)
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


def _undominated(stops: Sequence[Stop]) -> list[Stop]:
    """Places that no other one beats in both what it asks for and what it is worth."""
    return [
        stop
        for stop in stops
        if not any(
            other.effort < stop.effort - 1e-9 and other.worth >= stop.worth for other in stops
        )
    ]


def _is_between(baseline: Setup, lesser: Setup, above: Setup) -> bool:
    """Whether every move of the lesser set-up lies between straight on and the other's."""
    for move in MOVE_BY_NAME.values():
        start, mine, far = (
            move.coordinate(getattr(setup, move.name)) for setup in (baseline, lesser, above)
        )
        low, high = min(start, far), max(start, far)
        if not low - move.grid / 2 - 1e-9 <= mine <= high + move.grid / 2 + 1e-9:
            return False
    return all(
        getattr(lesser, name) in (getattr(baseline, name), getattr(above, name))
        for name in CHOICE_EFFORT
    )
