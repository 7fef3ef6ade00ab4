"""The space of a search: what may be chosen for all, what each may do, what it shows.

A lone sitter is a group of one. An option is a lens, crop and light with an arrangement (who stands
where, who a step nearer, who on a box); a place in 0..1 holds the shared moves first, then each
sitter's own. The outcome is every sitter's vector (see ``search.search_space``), one after another,
then the facts of a group of several.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import permutations, product

import numpy as np

from sitwell.base.errors import RoomError, UsageError
from sitwell.base.units import distance_words
from sitwell.base.words import tr
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import Kit
from sitwell.brief.room import Room
from sitwell.brief.wishes import Wish
from sitwell.scene.framing import FRAMINGS, picture_size_mm
from sitwell.scene.measures import NAMES
from sitwell.scene.setup import Setup
from sitwell.search.choices import NEAREST_MM, Choice, Means
from sitwell.search.group import GroupSetup, Place
from sitwell.search.group_facts import eyes_mm_of, group_facts
from sitwell.search.lamps import rim_placed
from sitwell.search.moves import MOVE_BY_NAME, MOVES, POSE_MOVES, Move
from sitwell.search.search_space import Evaluator, SearchSpace, Vector, set_search_space

# How people stand for a picture; common practice, no source.
SPACING_MM = 400.0  # eye midpoint to eye midpoint, shoulder a little behind shoulder
BESIDE_MM = {"tight-head": 170.0}  # from the outer eye midpoint to the picture's edge
USUAL_BESIDE_MM = 290.0
STEP_NEARER_MM = 150.0
BOXES_MM = (100.0, 200.0)
LEAST_BOX_MM = 60.0  # a smaller difference needs no box
MOST_SITTERS = 5
BESIDE_PRICE = 10.0  # degrees off the lens, for each whom the rim light would stand beside
SHARED_MOVES = tuple(move for move in MOVES if move.name not in POSE_MOVES)
OWN_MOVES = tuple(MOVE_BY_NAME[name] for name in POSE_MOVES)


def _expressionless(_: Mapping[str, float]) -> Evaluator | None:
    """A head that can make no expression."""
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSitter:
    """Who sits: what tells their measures, what they wish, and what is easy for them.

    ``held`` are moves of their own that stay where they are, by name. ``possible`` makes what
    tells the measures of other heads that they may have, ``expressive`` what tells those of their
    head with expression sliders (None where it has none), ``unseen`` are features that nothing
    tells of, and ``notes`` is what else is to be said of how they were read.
    """

    label: str
    evaluator: Evaluator
    wishes: tuple[Wish, ...] = ()
    comfort: Comfort = field(default_factory=Comfort)
    held: Mapping[str, float] = field(default_factory=dict)
    possible: Callable[[], Sequence[Evaluator]] = tuple
    expressive: Callable[[Mapping[str, float]], Evaluator | None] = _expressionless
    unseen: frozenset[str] = frozenset()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """Who stands where: ``order`` from camera left; a step nearer and a box for each sitter, mm."""

    order: tuple[int, ...]
    forward_mm: tuple[float, ...]
    box_mm: tuple[float, ...]

    @property
    def is_plain(self) -> bool:
        """Whether nobody stands nearer or on a box."""
        return not any((*self.forward_mm, *self.box_mm))

    def places(self, eyes_mm: Sequence[float]) -> tuple[Place, ...]:
        """Each sitter's place, from the heights of their eyes above the floor."""
        count = len(self.order)
        heights = np.array(eyes_mm) + self.box_mm
        up, fore = heights - heights.mean(), np.array(self.forward_mm) - np.mean(self.forward_mm)
        across = SPACING_MM * (np.argsort(self.order) - (count - 1) / 2)
        return tuple(
            Place(
                x_mm=float(across[i]),
                y_mm=float(up[i]),
                z_mm=float(fore[i]),
                forward_mm=self.forward_mm[i],
                box_mm=self.box_mm[i],
            )
            for i in range(count)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One lens, crop and light with one arrangement, the distance they give, and the box's corners.

    ``low`` and ``high`` are coordinates of what is shared, then of each sitter's own moves.
    """

    choice: Choice
    index: int  # of the choice, in every sitter's own space
    arrangement: Arrangement
    places: tuple[Place, ...]
    distance_mm: float
    lying: bool
    low: Vector
    high: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSearchSpace:
    """Everything that is fixed in a search; build it with ``set_group_search_space``."""

    sitters: tuple[GroupSitter, ...]
    spaces: tuple[SearchSpace, ...]
    options: tuple[Option, ...]
    usual: int
    free: list[int]  # of all moves, those that some option leaves room for

    @property
    def is_of_one(self) -> bool:
        """Whether one sitter sits alone."""
        return len(self.sitters) == 1

    @property
    def uncut(self) -> list[int]:
        """The options with the usual crop: a cut is another way, not a stop on the same one."""
        crop = self.options[self.usual].choice.crop
        return [i for i, option in enumerate(self.options) if option.choice.crop == crop]

    @property
    def moves(self) -> tuple[tuple[int | None, Move], ...]:
        """Each searched move with whose it is; None for what is shared."""
        every = _every_move(len(self.sitters))
        return tuple(every[index] for index in self.free)

    def widths(self, index: int) -> Vector:
        """How far each searched move reaches in an option, as a coordinate."""
        option = self.options[index]
        return np.asarray((option.high - option.low)[self.free])

    def setup_at(self, index: int, x: Vector) -> GroupSetup:
        """The group at a place in 0..1 of an option."""
        every, at = _every_move(len(self.sitters)), self._coordinates(index, x)
        values = [m.value(float(c)) for (_, m), c in zip(every, at, strict=True)]
        return self._rimmed(self._made(self.options[index], values))

    def settled(self, index: int, x: Vector) -> GroupSetup:
        """The group at a place, in numbers that a person can set."""
        option, every = self.options[index], _every_move(len(self.sitters))
        ends = zip(every, self._coordinates(index, x), option.low, option.high, strict=True)
        values = [
            m.snapped(m.value(float(c)), m.value(low), m.value(high))
            for (_, m), c, low, high in ends
        ]
        return self._rimmed(self._made(option, values))

    def snap(self, index: int, x: Vector) -> Vector:
        """The nearest place that a person can set."""
        return self.place_of(index, self.settled(index, x))

    def place_of(self, index: int, setup: GroupSetup) -> Vector:
        """Where a set-up lies in an option's box, clipped to it; what can't move lies at 0."""
        low, width = self.options[index].low[self.free], self.widths(index)
        at = np.array([move.coordinate(setup.value(i, move.name)) for i, move in self.moves])
        place = np.divide(at - low, width, where=width > 0, out=np.zeros(len(at)))
        return np.clip(place, 0.0, 1.0)

    def vector(self, setup: GroupSetup, choice: Choice) -> Vector:
        """Every sitter's vector, then the facts of a group of several."""
        seen = [space.vector(setup.own(i)) for i, space in enumerate(self.spaces)]
        if self.is_of_one:
            return seen[0]
        means = self.spaces[0].means
        eyes_mm = [sitter.comfort.eyes_above_floor_mm for sitter in self.sitters]
        facts = group_facts(setup, choice.light, means.room, means.camera, eyes_mm)
        return np.concatenate([*seen, facts])

    def parts(self, outcome: Vector) -> tuple[tuple[Vector, ...], Vector]:
        """An outcome taken apart again: each sitter's vector, and the facts of several."""
        wide = len(self.spaces[0].names)
        count = len(self.spaces)
        own = tuple(outcome[i * wide : (i + 1) * wide] for i in range(count))
        return own, outcome[count * wide :]

    def baseline(self) -> GroupSetup:
        """Everybody straight on in a row, the key in front, the usual lens: nothing planned."""
        option, plain = self.options[self.usual], self.spaces[0].plain
        ends = zip(_every_move(len(self.sitters)), option.low, option.high, strict=True)
        values = []
        for (owner, move), low, high in ends:
            start = getattr(plain, move.name)
            held = owner is not None and move.name in self.spaces[owner].means.locked
            values.append(start if held else move.snapped(start, move.value(low), move.value(high)))
        return self._made(option, values)

    def _coordinates(self, index: int, x: Vector) -> Vector:
        at = self.options[index].low.copy()
        at[self.free] += np.clip(x, 0.0, 1.0) * self.widths(index)
        return at

    def _made(self, option: Option, values: Sequence[float]) -> GroupSetup:
        count = len(SHARED_MOVES)
        names = [move.name for move in SHARED_MOVES]
        # The searched axis may cost a fixed value its last digit; give it back.
        locked = self.spaces[0].means.locked
        fixed = {name: float(locked[name]) for name in names if name in locked}
        own = np.reshape(values[count:], (len(self.sitters), len(OWN_MOVES)))
        made = self.spaces[0].plain.with_changes(
            **dict(zip(names, values[:count], strict=True)) | fixed,
            focal_mm=option.choice.focal_mm,
            distance_mm=option.distance_mm,
            crop=option.choice.crop,
            key_size_mm=option.choice.light.size_mm,
        )
        return GroupSetup(
            shared=option.choice.lit(made),
            places=option.places,
            poses=tuple(dict(zip(POSE_MOVES, map(float, row), strict=True)) for row in own),
            lying=option.lying,
        )

    def _rimmed(self, setup: GroupSetup) -> GroupSetup:
        """The group with the rim light that was asked for at the best place behind everybody."""
        means = self.spaces[0].means
        if means.rim_lamp is None:
            return setup
        eyes_mm = eyes_mm_of(setup, [s.comfort.eyes_above_floor_mm for s in self.sitters])

        def beside(shared: Setup) -> float:
            """What it costs that the light stands beside somebody, not behind them."""
            placed = replace(setup, shared=shared)
            return BESIDE_PRICE * sum(placed.own(i).rim == "off" for i in range(len(self.sitters)))

        lamp, locked = means.rim_lamp, means.locked
        placed = rim_placed(setup.shared, lamp, means.room, eyes_mm, locked, beside)
        return replace(setup, shared=placed)


def set_group_search_space(
    sitters: Sequence[GroupSitter],
    kit: Kit,
    room: Room,
    framing: str,
    aspect: str,
    locked: Mapping[str, float | str],
    arrangements: Sequence[Arrangement] | None = None,
    measure_names: Sequence[str] = NAMES,
    crops: Sequence[str] = ("whole-head",),
) -> GroupSearchSpace:
    """A space for one to five sitters; UsageError for another count, RoomError for no room."""
    if not 1 <= len(sitters) <= MOST_SITTERS:
        raise UsageError(
            tr(
                "One to {most} sitters are planned together, not {count}; plan more of them in "
                "rows.",
                most=MOST_SITTERS,
                count=len(sitters),
            )
        )
    spaces = tuple(
        set_search_space(
            sitter.evaluator,
            measure_names,
            Means(kit=kit, room=room, comfort=sitter.comfort, locked={**locked, **sitter.held}),
            framing=framing,
            aspect=aspect,
            crops=crops,
        )
        for sitter in sitters
    )
    arranged = tuple(arrangements or usual_arrangements(sitters))
    eyes_mm = [sitter.comfort.eyes_above_floor_mm for sitter in sitters]
    options = [
        option
        for index, choice in enumerate(spaces[0].choices)
        for arrangement in arranged
        if (option := _option(spaces, index, choice, arrangement, eyes_mm))
    ]
    if not options:
        raise RoomError(
            tr(
                "{count} people side by side don't fit the room '{room}', which allows {length} "
                "(depth_mm {depth_mm}); choose a closer framing, a shorter lens or a deeper "
                "room.",
                count=len(sitters),
                room=room.name,
                length=distance_words(room.depth_mm),
                depth_mm=f"{room.depth_mm:g}",
            )
        )
    wanted = spaces[0].usual
    return GroupSearchSpace(
        sitters=tuple(sitters),
        spaces=spaces,
        options=tuple(options),
        usual=next((i for i, option in enumerate(options) if option.index == wanted), 0),
        free=np.flatnonzero(np.any([o.high > o.low for o in options], axis=0)).tolist(),
    )


@cache
def _every_move(count: int) -> tuple[tuple[int | None, Move], ...]:
    """What is shared (None), then each sitter's own."""
    own = [(i, move) for i in range(count) for move in OWN_MOVES]
    return (*((None, move) for move in SHARED_MOVES), *own)


def usual_arrangements(sitters: Sequence[GroupSitter]) -> tuple[Arrangement, ...]:
    """Every order, one of them a step nearer or nobody, a box for the lowest or none.

    The first is the row as named, without a step or a box; for one sitter there is no other.
    """
    count = len(sitters)
    eyes_mm = [sitter.comfort.eyes_above_floor_mm for sitter in sitters]
    none = (0.0,) * count
    lowest, difference_mm = int(np.argmin(eyes_mm)), max(eyes_mm) - min(eyes_mm)
    boxes, forward = [none], [none]
    if difference_mm >= LEAST_BOX_MM:
        boxes += [_only(count, lowest, h) for h in BOXES_MM if h <= difference_mm + LEAST_BOX_MM]
    if count > 1:
        forward += [_only(count, i, STEP_NEARER_MM) for i in range(count)]
    return tuple(
        Arrangement(order=order, forward_mm=step, box_mm=box)
        for order, step, box in product(permutations(range(count)), forward, boxes)
    )


def _only(count: int, index: int, value: float) -> tuple[float, ...]:
    return tuple(value if i == index else 0.0 for i in range(count))


def _option(
    spaces: Sequence[SearchSpace],
    index: int,
    choice: Choice,
    arrangement: Arrangement,
    eyes_mm: Sequence[float],
) -> Option | None:
    means, places = spaces[0].means, arrangement.places(eyes_mm)
    distance_mm, lying = choice.distance_mm, False
    if len(spaces) > 1:
        plain = spaces[0].plain.with_changes(focal_mm=choice.focal_mm)
        distance_mm, lying = _distance(plain, places, choice)
        distance_mm = float(means.locked.get("distance_mm", distance_mm))
    if distance_mm > means.room.depth_mm:
        return None
    shared, own = ([MOVES.index(m) for m in moves] for moves in (SHARED_MOVES, OWN_MOVES))
    theirs = [space.choices[index] for space in spaces]
    return Option(
        choice=choice,
        index=index,
        arrangement=arrangement,
        places=places,
        distance_mm=distance_mm,
        lying=lying,
        low=np.concatenate([choice.low[shared], *(c.low[own] for c in theirs)]),
        high=np.concatenate([choice.high[shared], *(c.high[own] for c in theirs)]),
    )


def _distance(plain: Setup, places: Sequence[Place], choice: Choice) -> tuple[float, bool]:
    """From how far the lens holds everybody, and whether the camera lies on its long side.

    Thin lens: f (1 + held / sensor), as for one sitter.
    """
    beside_mm = BESIDE_MM.get(plain.framing, USUAL_BESIDE_MM)
    across = [place.x_mm for place in places]
    up = [place.y_mm for place in places]
    wide_mm = max(across) - min(across) + 2 * beside_mm
    high_mm = max(up) - min(up) + FRAMINGS[plain.framing].height_mm
    narrow, tall = picture_size_mm(plain)
    found = []
    for lying, (width, height) in ((False, (narrow, tall)), (True, (tall, narrow))):
        scale = max(wide_mm / width, high_mm / height)
        found.append((choice.focal_mm * (1.0 + scale), lying))
    framed_mm, lying = min(found)
    nearest_mm = max(NEAREST_MM, choice.lens.closest_focus_mm)
    forward_mm = max(place.z_mm for place in places)
    return max(math.ceil((framed_mm + forward_mm) / 10.0) * 10.0, nearest_mm + forward_mm), lying
