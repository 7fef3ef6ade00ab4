"""A found set-up made easier to hold: idle moves taken back, turns away from where they break."""

from itertools import combinations, product

import numpy as np

from sitwell.search.goals import HARDLY, Goal
from sitwell.search.group import GroupSetup
from sitwell.search.solve import Archive, Point, merit

ROOM_DEG = (3.0, 2.0)  # turn to either side within which all should stay as it is
SHIFTS_DEG = (0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0)
LITTLE = 0.1  # of the gain, given for that room
UNSEEN = 0.05  # noticeable steps, given for a move too small to be asked for


def pruned(archive: Archive, goal: Goal, here: Point) -> Point:
    """Moves that pay for nothing taken back to straight on: fewer moves are easier to hold.

    Chins that make up for the camera's height first, then one move at a time, then, for a lone
    sitter, two.
    """
    space = goal.space
    neutral = space.place_of(here.option, goal.baseline)
    here = min(here, _level(archive, goal, here), key=lambda point: merit(goal, point))
    half = np.array([0.5 * move.step for _, move in space.moves])
    for count in (1, 2) if space.is_of_one else (1,):
        for moves in combinations(np.flatnonzero(here.x != neutral), count):
            place = here.x.copy()
            place[list(moves)] = neutral[list(moves)]
            there = archive.at(here.option, space.snap(here.option, place))
            by = abs(place - here.x) * space.widths(here.option)
            idle = count == 1 and bool(by[moves[0]] < half[moves[0]])
            broken, cost = merit(goal, here)
            if merit(goal, there) < (broken, cost + (UNSEEN if idle else 0.0)):
                here = there
    return here


def _level(archive: Archive, goal: Goal, point: Point) -> Point:
    """The same look with the camera where it stands straight on: chins as they are seen.

    The key goes with them, as far as it can.
    """
    space, sitters = goal.space, range(len(goal.space.sitters))
    setup = space.settled(point.option, point.x)
    seen_deg = {i: setup.own(i).seen_pose_deg()[1] for i in sitters}
    lifted_deg = np.mean([seen_deg[i] - setup.value(i, "chin_deg") for i in sitters])
    level = setup.with_values(
        {
            (None, "camera_height_mm"): goal.baseline.shared.camera_height_mm,
            (None, "key_elevation_deg"): setup.shared.key_elevation_deg + float(lifted_deg),
            **{(i, "chin_deg"): seen_deg[i] for i in sitters},
        }
    )
    place = space.place_of(point.option, level)
    return archive.at(point.option, space.snap(point.option, place))


def with_room(archive: Archive, goal: Goal, here: Point) -> Point:
    """Each turn shifted to where it has room to either side, if that costs little.

    Room for everything that holds if there is such a place, else for the far ear.
    """
    for owner in range(len(goal.space.sitters)):
        here = _with_room(archive, goal, here, owner)
    return here


def _with_room(archive: Archive, goal: Goal, here: Point, owner: int) -> Point:
    space, option = goal.space, here.option
    setup = space.settled(option, here.x)
    worth = float(goal.gains(here.outcome).sum())
    least = worth - max(LITTLE * abs(worth), HARDLY)
    for stays, room_deg, shift_deg in product((_all_stays, _ear_stays), ROOM_DEG, SHIFTS_DEG):
        place = space.place_of(option, _turned(setup, owner, shift_deg))
        there = archive.at(option, space.snap(option, place))
        fits = merit(goal, there)[0] <= merit(goal, here)[0] + 1e-9
        serves = fits and float(goal.gains(there.outcome).sum()) >= least
        if serves and all(stays(goal, there, owner, by) for by in (-room_deg, room_deg)):
            return there
    return here


def _all_stays(goal: Goal, point: Point, owner: int, by_deg: float) -> bool:
    """Whether a turn so much off breaks no guard and loses no more than a tenth."""
    space, option = goal.space, goal.space.options[point.option]
    turned = _turned(space.settled(point.option, point.x), owner, by_deg)
    outcome = space.vector(turned, option.choice)
    gained, left = (float(goal.gains(seen).sum()) for seen in (point.outcome, outcome))
    holds = goal.broken(outcome).keys() <= goal.broken(point.outcome).keys()
    return holds and left >= gained - max(LITTLE * gained, LITTLE)


def _ear_stays(goal: Goal, point: Point, owner: int, by_deg: float) -> bool:
    turned = _turned(goal.space.settled(point.option, point.x), owner, by_deg).own(owner)
    return goal.guards[owner].holds("far ear", goal.space.spaces[owner].vector(turned))


def _turned(setup: GroupSetup, owner: int, by_deg: float) -> GroupSetup:
    return setup.with_values({(owner, "turn_deg"): setup.value(owner, "turn_deg") + by_deg})
