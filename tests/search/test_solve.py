"""The solver against problems whose optimum is published.

HS numbers: Hock & Schittkowski 1981, "Test Examples for Nonlinear Programming Codes", Lecture
Notes in Economics and Mathematical Systems 187 (problems and optima from memory; each optimum is
checked here to satisfy its own constraints). Rosenbrock constrained to a disk: the optimum of the
well-known variant with x^2 + y^2 <= 2 is (1, 1), value 0, on the edge of the disk.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import SearchStoppedError
from sitwell.search.solve import Archive, best, merit, minimise, polish, screen, spread


def rosenbrock(z):
    return (1 - z[0]) ** 2 + 100 * (z[1] - z[0] ** 2) ** 2


def hs71(z):
    return z[0] * z[3] * (z[0] + z[1] + z[2]) + z[2]


# name, objective, constraints (<= 0), low, high, optimum, value
PROBLEMS = [
    (
        "Rosenbrock in a disk",
        rosenbrock,
        lambda z: [z @ z - 2.0],
        [-1.5] * 2,
        [1.5] * 2,
        [1.0, 1.0],
        0.0,
    ),
    (
        "Rosenbrock in a smaller disk",
        rosenbrock,
        lambda z: [z @ z - 1.0],
        [-1.5] * 2,
        [1.5] * 2,
        # Computed independently: minimum over the circle's angle, see the test below.
        None,
        None,
    ),
    (
        "HS22",
        lambda z: (z[0] - 2) ** 2 + (z[1] - 1) ** 2,
        lambda z: [z[0] + z[1] - 2, z[0] ** 2 - z[1]],
        [-3.0] * 2,
        [3.0] * 2,
        [1.0, 1.0],
        1.0,
    ),
    (
        "HS35",
        lambda z: (
            9
            - 8 * z[0]
            - 6 * z[1]
            - 4 * z[2]
            + 2 * z[0] ** 2
            + 2 * z[1] ** 2
            + z[2] ** 2
            + 2 * z[0] * z[1]
            + 2 * z[0] * z[2]
        ),
        lambda z: [z[0] + z[1] + 2 * z[2] - 3],
        [0.0] * 3,
        [3.0] * 3,
        [4 / 3, 7 / 9, 4 / 9],
        1 / 9,
    ),
    (
        "HS43 (Rosen-Suzuki)",
        lambda z: (
            z[0] ** 2
            + z[1] ** 2
            + 2 * z[2] ** 2
            + z[3] ** 2
            - 5 * z[0]
            - 5 * z[1]
            - 21 * z[2]
            + 7 * z[3]
        ),
        lambda z: [
            z[0] ** 2 + z[1] ** 2 + z[2] ** 2 + z[3] ** 2 + z[0] - z[1] + z[2] - z[3] - 8,
            z[0] ** 2 + 2 * z[1] ** 2 + z[2] ** 2 + 2 * z[3] ** 2 - z[0] - z[3] - 10,
            2 * z[0] ** 2 + z[1] ** 2 + z[2] ** 2 + 2 * z[0] - z[1] - z[3] - 5,
        ],
        [-3.0] * 4,
        [3.0] * 4,
        [0.0, 1.0, 2.0, -1.0],
        -44.0,
    ),
    (
        "HS76",
        lambda z: (
            z[0] ** 2
            + 0.5 * z[1] ** 2
            + z[2] ** 2
            + 0.5 * z[3] ** 2
            - z[0] * z[2]
            + z[2] * z[3]
            - z[0]
            - 3 * z[1]
            + z[2]
            - z[3]
        ),
        lambda z: [
            z[0] + 2 * z[1] + z[2] + z[3] - 5,
            3 * z[0] + z[1] + 2 * z[2] - z[3] - 4,
            1.5 - z[1] - 4 * z[2],
        ],
        [0.0] * 4,
        [4.0] * 4,
        [0.2727273, 2.090909, 0.0, 0.5454545],
        -4.681818,
    ),
]


def solved(objective, constraints, low, high, *, seed=1, budget=3000):
    low, span = np.array(low), np.array(high) - np.array(low)
    archive = Archive(
        lambda _, x: np.concatenate([[objective(low + span * x)], constraints(low + span * x)])
    )

    def judge(_, x, outcome):
        return float(outcome[0]), outcome[1:]

    first = archive.at(0, np.full(low.size, 0.45))
    found = minimise(archive, judge, first, budget=budget, seed=seed, width=0.25)
    return low + span * found.x, found, archive, judge


@pytest.mark.parametrize(
    ("objective", "constraints", "low", "high", "optimum", "value"),
    [p[1:] for p in PROBLEMS if p[5] is not None],
    ids=[p[0] for p in PROBLEMS if p[5] is not None],
)
def test_a_published_optimum_is_reached(objective, constraints, low, high, optimum, value):
    assert max(constraints(np.array(optimum))) <= 1e-6
    z, found, _, judge = solved(objective, constraints, low, high)
    assert merit(judge, found)[0] == 0.0
    assert_allclose(found.outcome[0], value, rtol=1e-3, atol=1e-3)
    assert_allclose(z, optimum, atol=0.03)


def test_an_optimum_pressed_against_a_curved_limit_is_reached():
    """Rosenbrock with x^2 + y^2 <= 1: the optimum lies on the circle; a dense scan finds it."""
    angles = np.linspace(0, 2 * math.pi, 2_000_001)
    x, y = np.cos(angles), np.sin(angles)
    scanned = ((1 - x) ** 2 + 100 * (y - x**2) ** 2).min()
    _, found, _, judge = solved(*PROBLEMS[1][1:5])
    assert merit(judge, found)[0] == 0.0
    assert_allclose(found.outcome[0], scanned, rtol=5e-3)


def test_the_same_seed_gives_the_same_answer_and_another_seed_another_path():
    first, again = (solved(*PROBLEMS[4][1:5], budget=300)[0] for _ in range(2))
    other = solved(*PROBLEMS[4][1:5], budget=300, seed=2)[0]
    assert first.tobytes() == again.tobytes()
    assert first.tobytes() != other.tobytes()


def test_the_budget_is_kept():
    *_, archive, _ = solved(*PROBLEMS[4][1:5], budget=137)
    assert len(archive) <= 138


def test_a_point_is_observed_once():
    calls = []
    archive = Archive(lambda option, x: calls.append(option) or x)
    for _ in range(3):
        archive.at(2, np.array([0.5]))
    assert calls == [2]


def test_a_stopped_search_says_so():
    archive = Archive(lambda _, x: x, stop=lambda: len(archive) >= 5)
    with pytest.raises(SearchStoppedError, match="was stopped; start it again for a plan"):
        minimise(
            archive,
            lambda _, x, o: (float(o @ o), np.zeros(0)),
            archive.at(0, np.full(3, 0.5)),
            budget=100,
            seed=1,
        )


def test_the_screen_finds_the_option_that_can_win():
    archive = Archive(lambda option, x: np.array([(x[0] - 0.3) ** 2 + abs(option - 5)]))
    order = screen(
        archive,
        lambda _, x, o: (float(o[0]), np.zeros(0)),
        options=range(8),
        dimensions=1,
        count=32,
        seed=3,
    )
    assert order[0] == 5


def test_spread_points_are_in_the_box_and_repeat():
    assert spread(33, 4, 5).shape == (33, 4)
    assert spread(33, 4, 5).tobytes() == spread(33, 4, 5).tobytes()
    assert spread(10, 0, 5).shape == (1, 0)


def test_the_polish_ends_on_the_grid_at_the_best_grid_point():
    def judge(_, x, outcome):
        return float(((x - 0.537) ** 2).sum()), np.array([x[0] - 0.52])

    archive = Archive(lambda _, x: x)
    found = polish(
        archive,
        judge,
        archive.at(0, np.array([0.11, 0.93])),
        grid=lambda _, x: np.round(x * 20) / 20,
        steps=np.array([[0.2, 0.2], [0.05, 0.05]]),
        budget=500,
    )
    assert_allclose(found.x, [0.5, 0.55], atol=1e-12)


def test_a_kept_limit_beats_a_lower_cost():
    archive = Archive(lambda _, x: x)
    points = [archive.at(0, np.array([v])) for v in (0.1, 0.6)]
    assert best(lambda _, x, o: (float(x[0]), 0.5 - x), points) is points[1]
