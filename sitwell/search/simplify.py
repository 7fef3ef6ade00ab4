"""A found set-up made easier to hold: idle moves taken back, the far ear away from its sliver."""

from dataclasses import replace
from itertools import combinations, product

import numpy as np

from sitwell.scene.setup import Setup
from sitwell.search.goals import Goal
from sitwell.search.search_space import SearchSpace, Vector
from sitwell.search.solve import Archive, Point, merit

ROOM_DEG = (3.0, 2.0)  # turn to either side within which the far ear should stay as it is
SHIFTS_DEG = (0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0)
LITTLE = 0.1  # of the gain, given for that room
SLACK = 0.95  # of the least gain, when moves are taken back
UNSEEN = 0.05  # noticeable steps, given for a move too small to be asked for
HARDLY = 0.2  # noticeable steps that no one would miss


def pruned(archive: Archive, space: SearchSpace, goal: Goal, baseline: Setup, here: Point) -> Point:
    """Moves that pay for nothing taken back to straight on: fewer moves are easier to hold.

    A chin that makes up for the camera's height first, then one move at a time, then two.
    """
    if goal.floor is not None:
        floor = np.where(goal.floor > 0, SLACK * goal.floor, goal.floor - UNSEEN)
        goal = replace(goal, floor=floor)
    neutral = space.place_of(here.option, baseline)
    here = min(here, _level(archive, space, baseline, here), key=lambda point: merit(goal, point))
    for count in (1, 2):
        for moves in combinations(np.flatnonzero(here.x != neutral), count):
            place = here.x.copy()
            place[list(moves)] = neutral[list(moves)]
            there = archive.at(here.option, space.snap(here.option, place))
            idle = count == 1 and _is_idle(space, here, int(moves[0]), place - here.x)
            broken, cost = merit(goal, here)
            if merit(goal, there) < (broken, cost + (UNSEEN if idle else 0.0)):
                here = there
    return here


def _level(archive: Archive, space: SearchSpace, baseline: Setup, point: Point) -> Point:
    """The same look with the camera where it stands straight on: the chin as it is seen.

    The key goes with the chin, as far as it can.
    """
    setup = space.settled(point.option, point.x)
    seen_deg = setup.seen_pose_deg()[1]
    level = setup.with_changes(
        chin_deg=seen_deg,
        camera_height_mm=baseline.camera_height_mm,
        key_elevation_deg=setup.key_elevation_deg + seen_deg - setup.chin_deg,
    )
    place = space.place_of(point.option, level)
    return archive.at(point.option, space.snap(point.option, place))


def _is_idle(space: SearchSpace, point: Point, index: int, by: Vector) -> bool:
    """Whether a move is taken back by less than half of its natural step."""
    choice, place = space.choices[point.option], space.free_indices[index]
    width = choice.high[place] - choice.low[place]
    return abs(by[index]) * width < 0.5 * space.free[index].step


def with_room(archive: Archive, space: SearchSpace, goal: Goal, here: Point) -> Point:
    """The turn shifted away from where the far ear is a sliver, if that costs little."""
    setup, option = space.settled(here.option, here.x), here.option
    free = replace(goal, floor=None)
    worth = goal.benefit.total(here.outcome)
    least = worth - max(LITTLE * abs(worth), HARDLY)
    for room_deg, shift_deg in product(ROOM_DEG, SHIFTS_DEG):
        shifted = setup.with_changes(turn_deg=setup.turn_deg + shift_deg)
        there = archive.at(option, space.snap(option, space.place_of(option, shifted)))
        fits = merit(free, there)[0] <= merit(free, here)[0] + 1e-9
        serves = fits and goal.benefit.total(there.outcome) >= least
        if serves and _ear_stays(space, goal, there, room_deg):
            return there
    return here


def _ear_stays(space: SearchSpace, goal: Goal, point: Point, room_deg: float) -> bool:
    setup = space.settled(point.option, point.x)
    turned = (setup.with_changes(turn_deg=setup.turn_deg + d) for d in (-room_deg, room_deg))
    return all(goal.guards.holds("far ear", space.vector(there)) for there in turned)
