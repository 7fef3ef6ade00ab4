"""Where searches start: a spread over all choices and simple ways, or everybody's best pose.

A lone sitter has few choices, so a spread over all of them finds the likely ones. A group has every
row beside every lens, but under one camera and key each sitter's pose can be chosen without the
others': the looks at one sitter are shared by every group that has them so.
"""

from collections.abc import Sequence
from itertools import product

import numpy as np

from sitwell.search.goals import Goal
from sitwell.search.solve import Archive, Point, best, merit, screen

# One move alone, in steps that a search over all of them may jump across.
SIMPLE_MOVES = {
    "turn_deg": (-20.0, -10.0, -8.0, -6.0, 0.0, 6.0, 8.0, 10.0, 20.0),
    "chin_deg": (-6.0, -3.0, 3.0, 6.0),
    "camera_height_mm": (-200.0, -100.0, 100.0, 200.0),
}
SIMPLE_KEYS_DEG = (-20.0, 0.0, 20.0)
# Nobody faces the sun, or stands before the window that is to light the sitter.
SIMPLE_ROUND_DEG = (-60.0, -40.0, 40.0, 60.0)


# Moves that are tried right across their range: a far ear is gone after a large turn only, and a
# search by small steps does not get there.
LEAPING = ("turn_deg", "chin_deg", "key_azimuth_deg", "camera_height_mm")
LEAPING_POSE = ("turn_deg", "chin_deg")
LEAPS, FEWEST_LEAPS = 17, 7
KEYS_DEG, HEIGHTS_MM = (-25.0, 0.0, 25.0), (-150.0, 0.0, 150.0)
POSED_STARTS = 2
BROKEN_PRICE = 3.0  # noticeable steps for a unit of violation, where a start is looked for


def spread_places(archive: Archive, goal: Goal, *, evaluations: int, seed: int) -> list[Point]:
    """The best places of the best choices after a screen over all, and the best simple way."""
    options = goal.space.uncut
    order = screen(
        archive,
        goal,
        options=options,
        dimensions=len(goal.space.free),
        count=max(16, int(0.5 * 0.14 * evaluations / len(options) ** 0.5) // 4 * 4),
        seed=seed,
    )
    likely = [point for point in archive.points if point.option in order[:2]]
    ranked = sorted(likely, key=lambda point: merit(goal, point))
    return [*_scattered(ranked, 3), best(goal, simple_ways(archive, goal))]


def simple_ways(archive: Archive, goal: Goal) -> list[Point]:
    """One move at a time, the key in front or to either side: easily missed, easily held."""
    space, points = goal.space, []
    for option in _simple_options(goal):
        keys_deg = SIMPLE_ROUND_DEG if _is_gone_round(goal, option) else SIMPLE_KEYS_DEG
        for name, values in SIMPLE_MOVES.items():
            for value, key_deg in product(values, keys_deg):
                setup = goal.baseline.with_values(
                    {
                        (0 if name in LEAPING_POSE else None, name): value,
                        (None, "key_azimuth_deg"): key_deg,
                        (None, "f_number"): _aperture(goal, option),
                    }
                )
                place = space.place_of(option, setup)
                points.append(archive.at(option, space.snap(option, place)))
    return points


def _is_gone_round(goal: Goal, option: int) -> bool:
    """Whether the choice's light is the sun or a window, beside which the camera stands."""
    return goal.space.options[option].choice.light.daylight in ("sun", "window")


def _simple_options(goal: Goal) -> list[int]:
    """The usual choice and the longest lens."""
    options = goal.space.options
    longest = max(goal.space.uncut, key=lambda i: options[i].choice.focal_mm)
    return list(dict.fromkeys([goal.space.usual, longest]))


def _aperture(goal: Goal, option: int) -> float:
    """The usual aperture with the usual lens, else the widest: a long lens is for soft ears."""
    choice, usual = goal.space.options[option].choice, goal.baseline.shared
    same = choice.focal_mm == usual.focal_mm
    return usual.f_number if same else choice.lens.widest_f_at(choice.focal_mm)


def posed_places(archive: Archive, goal: Goal, *, evaluations: int) -> list[Point]:
    """Everybody's best pose under each of a few keys and heights, then other rows and lenses."""
    space, usual = goal.space, goal.space.usual
    found = [archive.at(usual, space.place_of(usual, goal.baseline))]
    for key_deg, height_mm in product(KEYS_DEG, HEIGHTS_MM):
        setup = goal.baseline.with_values(
            {(None, "key_azimuth_deg"): key_deg, (None, "camera_height_mm"): height_mm}
        )
        start = archive.at(usual, space.place_of(usual, setup))
        found.append(posed(archive, goal, start, evaluations=evaluations))
    starts: dict[int, Point] = {}
    for point in sorted(found, key=lambda point: merit(goal, point))[:POSED_STARTS]:
        for there in _rearranged(archive, goal, point):
            starts.setdefault(id(there), there)
    return list(starts.values())


def posed(archive: Archive, goal: Goal, start: Point, *, evaluations: int) -> Point:
    """A place with each sitter's best turn and chin, each chosen while the others are still."""
    place, moves = start.x.copy(), goal.space.moves
    for owner in range(len(goal.space.sitters)):
        here = start
        mine = [i for i, (who, m) in enumerate(moves) if who == owner and m.name in LEAPING_POSE]
        for index in mine:
            here = _leap(archive, goal, here, index, evaluations)
        place[mine] = here.x[mine]
    return best(goal, [start, archive.at(start.option, place)])


def leapt(archive: Archive, goal: Goal, here: Point, *, evaluations: int) -> Point:
    """The best of a place and of single moves right across their range, one after another."""
    for index, (_, move) in enumerate(goal.space.moves):
        if move.name in LEAPING:
            here = _leap(archive, goal, here, index, evaluations)
    return here


def _leap(archive: Archive, goal: Goal, here: Point, index: int, evaluations: int) -> Point:
    # odd, so that the middle of the range is one of them
    count = int(np.clip(evaluations // 35, FEWEST_LEAPS, LEAPS)) // 2 * 2 + 1
    places = np.repeat(here.x[None, :], count, axis=0)
    places[:, index] = np.linspace(0.0, 1.0, count)
    return best(goal, [here, *(archive.at(here.option, x) for x in places)])


def _rearranged(archive: Archive, goal: Goal, here: Point) -> list[Point]:
    """The same with everybody in other places, then with other lenses and lights.

    The best that keeps the guards, and the best that hardly breaks them: another place needs
    a touch of another pose, which the polish finds.
    """

    def nearly(point: Point) -> float:
        broken, cost = merit(goal, point)
        return cost + BROKEN_PRICE * broken

    space = goal.space
    options, setup = space.options, space.settled(here.option, here.x)
    likely = here
    for same in ("index", "arrangement"):
        kept = getattr(options[likely.option], same)
        others = [i for i, option in enumerate(options) if getattr(option, same) == kept]
        found = [archive.at(i, space.place_of(i, setup)) for i in others]
        here = best(goal, [here, *found])
        likely = min([likely, *found], key=nearly)
    return [here, likely]


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
