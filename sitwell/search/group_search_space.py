"""The stage of a group's search: what may be chosen for all, what each may do, what it shows.

An option is a lens and light with an arrangement (who stands where, who a step nearer, who on a
box); a place in 0..1 holds the shared moves first, then each sitter's own. The outcome is every
sitter's vector (see ``search.search_space``), one after another, then the facts of the group.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations, product
from typing import Any

import numpy as np

from sitwell.base.errors import RoomError, UsageError
from sitwell.base.units import distance_words
from sitwell.base.words import tr
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import Kit, LightSource
from sitwell.brief.room import Room
from sitwell.brief.wishes import Wish
from sitwell.scene.framing import FRAMINGS, picture_size_mm
from sitwell.scene.measures import NAMES
from sitwell.scene.setup import Setup
from sitwell.search.choices import NEAREST_MM, Choice, Means
from sitwell.search.group import GroupSetup, Place
from sitwell.search.group_facts import eyes_mm_of, group_facts
from sitwell.search.lamps import rim_places, rim_short
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


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSitter:
    """One of the group: what tells their measures, what they wish, and what is easy for them.

    ``held`` are moves of their own that stay where they are, by name.
    """

    label: str
    evaluator: Evaluator
    wishes: tuple[Wish, ...] = ()
    comfort: Comfort = field(default_factory=Comfort)
    held: Mapping[str, float] | None = None

    def reach(self) -> Comfort:
        """Their ranges, with what is held held."""
        spans: dict[str, Any] = {name: (v, v) for name, v in (self.held or {}).items()}
        return replace(self.comfort, **spans)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """Who stands where: ``order`` from camera left; a step nearer and a box for each sitter, mm."""

    order: tuple[int, ...]
    forward_mm: tuple[float, ...]
    box_mm: tuple[float, ...]

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
    """One lens and light with one arrangement, the distance they give, and the box's corners."""

    choice: Choice
    index: int  # of the choice, in every sitter's own stage
    arrangement: Arrangement
    places: tuple[Place, ...]
    distance_mm: float
    lying: bool
    low: Vector
    high: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSearchSpace:
    """Everything that is fixed in a group's search; build it with ``set_group_search_space``."""

    sitters: tuple[GroupSitter, ...]
    spaces: tuple[SearchSpace, ...]
    options: tuple[Option, ...]
    usual: int

    @property
    def moves(self) -> tuple[tuple[int | None, Move], ...]:
        """Each searched move with whose it is; None for what is shared."""
        own = [(i, move) for i in range(len(self.sitters)) for move in OWN_MOVES]
        return (*((None, move) for move in SHARED_MOVES), *own)

    def setup_at(self, index: int, x: Vector) -> GroupSetup:
        """The group at a place in 0..1 of an option."""
        option = self.options[index]
        at = option.low + np.clip(x, 0.0, 1.0) * (option.high - option.low)
        return self._made(
            option,
            [move.value(float(c)) for (_, move), c in zip(self.moves, at, strict=True)],
        )

    def settled(self, index: int, x: Vector) -> GroupSetup:
        """The group at a place, in numbers that a person can set."""
        option = self.options[index]
        at = option.low + np.clip(x, 0.0, 1.0) * (option.high - option.low)
        ends = zip(self.moves, at, option.low, option.high, strict=True)
        return self._made(
            option,
            [m.snapped(m.value(float(c)), m.value(low), m.value(high))
             for (_, m), c, low, high in ends],
        )  # fmt: skip

    def place_of(self, index: int, setup: GroupSetup) -> Vector:
        """Where a group's set-up lies in an option's box, clipped to it."""
        option = self.options[index]
        values = [
            getattr(setup.shared, move.name) if i is None else setup.poses[i][move.name]
            for i, move in self.moves
        ]
        at = np.array([m.coordinate(v) for (_, m), v in zip(self.moves, values, strict=True)])
        width = option.high - option.low
        place = np.divide(at - option.low, width, where=width > 0, out=np.zeros(len(at)))
        return np.clip(place, 0.0, 1.0)

    def vector(self, setup: GroupSetup, choice: Choice) -> Vector:
        """Every sitter's vector, then the facts of the group."""
        seen = [space.vector(setup.own(i)) for i, space in enumerate(self.spaces)]
        means = self.spaces[0].means
        eyes_mm = [sitter.comfort.eyes_above_floor_mm for sitter in self.sitters]
        facts = group_facts(setup, choice.light, means.room, means.camera, eyes_mm)
        return np.concatenate([*seen, facts])

    def parts(self, outcome: Vector) -> tuple[tuple[Vector, ...], Vector]:
        """An outcome taken apart again: each sitter's vector, and the facts."""
        wide = len(self.spaces[0].names)
        count = len(self.spaces)
        own = tuple(outcome[i * wide : (i + 1) * wide] for i in range(count))
        return own, outcome[count * wide :]

    def baseline(self) -> GroupSetup:
        """Everybody straight on in a row, the key in front, the usual lens: nothing planned."""
        option, plain = self.options[self.usual], self.spaces[0].plain
        values = []
        ends = zip(self.moves, option.low, option.high, strict=True)
        for (owner, move), low, high in ends:
            start = 0.0 if owner is not None else getattr(plain, move.name)
            values.append(move.snapped(start, move.value(low), move.value(high)))
        return self._made(option, values)

    def _made(self, option: Option, values: Sequence[float]) -> GroupSetup:
        count = len(SHARED_MOVES)
        shared = dict(zip((m.name for m in SHARED_MOVES), values[:count], strict=True))
        own = np.reshape(values[count:], (len(self.sitters), len(OWN_MOVES)))
        made = self.spaces[0].plain.with_changes(
            **shared,
            focal_mm=option.choice.focal_mm,
            distance_mm=option.distance_mm,
            key_size_mm=option.choice.light.size_mm,
        )
        setup = GroupSetup(
            shared=option.choice.lit(made),
            places=option.places,
            poses=tuple(dict(zip(POSE_MOVES, map(float, row), strict=True)) for row in own),
            lying=option.lying,
        )
        return setup if self.rim_lamp is None else self._rimmed(setup, self.rim_lamp)

    @property
    def rim_lamp(self) -> LightSource | None:
        """The kit's light for the rim light that is asked for; None without one."""
        return self.spaces[0].means.rim_lamp

    def _rimmed(self, setup: GroupSetup, lamp: LightSource) -> GroupSetup:
        """The group with its rim light at the first usual place that is clear and behind all.

        Where there is none, the one that comes nearest to it, for the guards to tell of.
        """
        means = self.spaces[0].means
        eyes_mm = eyes_mm_of(setup, [s.comfort.eyes_above_floor_mm for s in self.sitters])
        best, least = setup, -math.inf
        for there in rim_places(setup.shared, lamp, means.locked):
            placed = replace(setup, shared=there)
            beside = sum(placed.own(i).rim == "off" for i in range(len(self.sitters)))
            short = rim_short(there, means.room, eyes_mm) - BESIDE_PRICE * beside
            if short > least:
                best, least = placed, short
            if short == 0.0:
                break
        return best


def set_group_search_space(
    sitters: Sequence[GroupSitter],
    kit: Kit,
    room: Room,
    framing: str,
    aspect: str,
    locked: Mapping[str, float | str],
    arrangements: Sequence[Arrangement] | None = None,
    measure_names: Sequence[str] = NAMES,
) -> GroupSearchSpace:
    """A stage for a group of one to five; UsageError for another count, RoomError for no room."""
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
            Means(kit=kit, room=room, comfort=sitter.reach(), locked=dict(locked)),
            framing=framing,
            aspect=aspect,
            crops=("whole-head",),
        )
        for sitter in sitters
    )
    arranged = tuple(arrangements or usual_arrangements(sitters))
    eyes_mm = [sitter.comfort.eyes_above_floor_mm for sitter in sitters]
    options = [
        option
        for index, choice in enumerate(spaces[0].choices)
        for arrangement in arranged
        if (option := _option(spaces, sitters, index, choice, arrangement, eyes_mm))
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
    usual = next((i for i, option in enumerate(options) if option.index == wanted), 0)
    return GroupSearchSpace(
        sitters=tuple(sitters), spaces=spaces, options=tuple(options), usual=usual
    )


def usual_arrangements(sitters: Sequence[GroupSitter]) -> tuple[Arrangement, ...]:
    """Every order, one of them a step nearer or nobody, a box for the lowest or none.

    The first is the row as named, without a step or a box.
    """
    count = len(sitters)
    eyes_mm = [sitter.comfort.eyes_above_floor_mm for sitter in sitters]
    none = (0.0,) * count
    lowest, difference_mm = int(np.argmin(eyes_mm)), max(eyes_mm) - min(eyes_mm)
    boxes = [none]
    if difference_mm >= LEAST_BOX_MM:
        boxes += [_only(count, lowest, h) for h in BOXES_MM if h <= difference_mm + LEAST_BOX_MM]
    forward = [none, *(_only(count, i, STEP_NEARER_MM) for i in range(count))]
    return tuple(
        Arrangement(order=order, forward_mm=step, box_mm=box)
        for order, step, box in product(permutations(range(count)), forward, boxes)
    )


def _only(count: int, index: int, value: float) -> tuple[float, ...]:
    return tuple(value if i == index else 0.0 for i in range(count))


def _option(
    spaces: Sequence[SearchSpace],
    sitters: Sequence[GroupSitter],
    index: int,
    choice: Choice,
    arrangement: Arrangement,
    eyes_mm: Sequence[float],
) -> Option | None:
    means, places = spaces[0].means, arrangement.places(eyes_mm)
    plain = spaces[0].plain.with_changes(focal_mm=choice.focal_mm)
    distance_mm, lying = _distance(plain, places, choice)
    if "distance_mm" in means.locked:
        distance_mm = float(means.locked["distance_mm"])
    if distance_mm > means.room.depth_mm:
        return None
    shared = [MOVES.index(move) for move in SHARED_MOVES]
    spans = [getattr(sitter.reach(), move.name) for sitter in sitters for move in OWN_MOVES]
    own = np.array(spans, dtype=np.float64)  # a pose's coordinate is its value
    return Option(
        choice=choice,
        index=index,
        arrangement=arrangement,
        places=places,
        distance_mm=distance_mm,
        lying=lying,
        low=np.concatenate([choice.low[shared], own[:, 0]]),
        high=np.concatenate([choice.high[shared], own[:, 1]]),
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
