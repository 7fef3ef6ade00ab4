"""Where searches start: a spread over all choices, and simple ways."""

from collections.abc import Sequence
from itertools import product

import numpy as np

from sitwell.scene.setup import Setup
from sitwell.search.search_space import SearchSpace
from sitwell.search.solve import Archive, Judge, Point, best, merit, screen

# One move alone, in steps that a search over all of them may jump across.
SIMPLE_MOVES = {
    "turn_deg": (-20.0, -10.0, -8.0, -6.0, 0.0, 6.0, 8.0, 10.0, 20.0),
    "chin_deg": (-6.0, -3.0, 3.0, 6.0),
    "camera_height_mm": (-200.0, -100.0, 100.0, 200.0),
}
SIMPLE_KEYS_DEG = (-20.0, 0.0, 20.0)
# Nobody faces the sun, or stands before the window that is to light the sitter.
SIMPLE_ROUND_DEG = (-60.0, -40.0, 40.0, 60.0)


def first_places(
    archive: Archive,
    space: SearchSpace,
    judge: Judge,
    baseline: Setup,
    *,
    evaluations: int,
    seed: int,
) -> list[Point]:
    """The best places of the best choices after a screen over all, and the best simple way."""
    archive.at(space.usual, space.place_of(space.usual, baseline))
    options = range(len(space.choices))
    order = screen(
        archive,
        judge,
        options=options,
        dimensions=len(space.free_indices),
        count=max(16, int(0.5 * 0.14 * evaluations / len(options) ** 0.5) // 4 * 4),
        seed=seed,
    )
    likely = [point for point in archive.points if point.option in order[:2]]
    ranked = sorted(likely, key=lambda point: merit(judge, point))
    return [*_scattered(ranked, 3), best(judge, simple_ways(archive, space, baseline))]


def simple_ways(archive: Archive, space: SearchSpace, baseline: Setup) -> list[Point]:
    """One move at a time, the key in front or to either side: easily missed, easily held."""
    points = []
    for option in _simple_options(space):
        keys_deg = SIMPLE_ROUND_DEG if _is_gone_round(space, option) else SIMPLE_KEYS_DEG
        for name, values in SIMPLE_MOVES.items():
            for value, key_deg in product(values, keys_deg):
                setup = baseline.with_changes(
                    **{name: value}, key_azimuth_deg=key_deg, f_number=_aperture(space, option)
                )
                place = space.place_of(option, setup)
                points.append(archive.at(option, space.snap(option, place)))
    return points


def _is_gone_round(space: SearchSpace, option: int) -> bool:
    """Whether the choice's light is the sun or a window, beside which the camera stands."""
    return space.choices[option].light.daylight in ("sun", "window")


def _simple_options(space: SearchSpace) -> list[int]:
    """The usual choice, the longest lens, and a cut into the forehead, where there are such."""
    choices, usual = space.choices, space.choices[space.usual]
    whole = [i for i, choice in enumerate(choices) if choice.crop == usual.crop]
    longest = max(whole, key=lambda i: choices[i].focal_mm)
    cut = [i for i, c in enumerate(choices) if c.crop != usual.crop and c.lens == usual.lens]
    return list(dict.fromkeys([space.usual, longest, *cut[:1]]))


def _aperture(space: SearchSpace, option: int) -> float:
    """The usual aperture with the usual lens, else the widest: a long lens is for soft ears."""
    choice = space.choices[option]
    usual = choice.focal_mm == space.choices[space.usual].focal_mm
    return space.plain.f_number if usual else choice.lens.widest_f_at(choice.focal_mm)


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
