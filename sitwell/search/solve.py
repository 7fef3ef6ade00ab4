"""Constrained search on plain vectors: a screen, an evolution strategy, a polish on a grid.

Nothing here knows what the numbers mean. A point is an option (a whole number: one of a few
discrete choices) and a vector in 0..1; ``observe`` turns it into outcomes, once, and an archive
keeps them, so that several judges can ask about the same points without paying again. A judge
turns outcomes into a cost and a vector of violations (positive = broken).

Sources: covariance matrix adaptation as in Hansen 2016, "The CMA Evolution Strategy: A Tutorial",
arXiv:1604.00772; augmented Lagrangian for inequalities as in Nocedal & Wright 2006, "Numerical
Optimization", section 17.4; feasible points first, then by violation, as in Deb 2000, "An
efficient constraint handling method for genetic algorithms".
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import SearchStoppedError
from sitwell.base.words import tr

Vector = NDArray[np.float64]
Observe = Callable[[int, Vector], Vector]
Judge = Callable[[int, Vector, Vector], tuple[float, Vector]]


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """One looked-at point: its option, its place in 0..1, and what was observed there."""

    option: int
    x: Vector
    outcome: Vector


@dataclass(slots=True)
class Archive:
    """Every point observed so far; asking again costs nothing. ``stop`` may end the search."""

    observe: Observe
    stop: Callable[[], bool] = lambda: False
    points: list[Point] = field(default_factory=list)
    _by_key: dict[tuple[int, bytes], Point] = field(default_factory=dict)

    def at(self, option: int, x: Vector) -> Point:
        """The point at a place, observed now or remembered."""
        key = (option, np.round(x, 12).tobytes())
        if key not in self._by_key:
            if self.stop():
                raise SearchStoppedError(tr("The search was stopped; start it again for a plan."))
            point = Point(option, x.copy(), self.observe(option, x))
            self._by_key[key] = point
            self.points.append(point)
        return self._by_key[key]

    def __len__(self) -> int:
        return len(self.points)


def merit(judge: Judge, point: Point) -> tuple[float, float]:
    """Sorting key, smaller is better: total violation first, then cost."""
    cost, violations = judge(point.option, point.x, point.outcome)
    return float(np.maximum(violations, 0.0).sum()), cost


def best(judge: Judge, points: Iterable[Point]) -> Point:
    """The point a judge likes most."""
    return min(points, key=lambda point: merit(judge, point))


def spread(count: int, dimensions: int, seed: int) -> NDArray[np.float64]:
    """``count`` well-spread points (count, dimensions) in 0..1, the same for the same seed.

    An additive recurrence by powers of the root of x^(d+1) = x + 1, the golden ratio's kin
    (Roberts 2018, "The Unreasonable Effectiveness of Quasirandom Sequences", from memory).
    """
    if dimensions == 0:
        return np.zeros((1, 0))
    root = 1.5
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    by = root ** -np.arange(1.0, dimensions + 1)
    start = np.random.default_rng(seed).random(dimensions)
    return np.asarray((start + np.arange(count)[:, None] * by) % 1.0)


def screen(
    archive: Archive,
    judge: Judge,
    *,
    options: Sequence[int],
    dimensions: int,
    count: int,
    seed: int,
) -> list[int]:
    """Spread points over all options and halve the options twice by their best; best first."""
    left = list(options)
    places = spread(count, dimensions, seed)
    for low, high in ((0, count // 4), (count // 4, count // 2), (count // 2, count)):
        for option in left:
            for x in places[low:high]:
                archive.at(option, x)
        left = _ranked(archive, judge, left)
        left = left[: max(1, math.ceil(len(left) / 2))] if high < count else left
    return left


def minimise(
    archive: Archive,
    judge: Judge,
    start: Point,
    *,
    budget: int,
    seed: int,
    width: float = 0.15,
) -> Point:
    """Best point near and beyond ``start`` by an evolution strategy on an augmented Lagrangian.

    ``budget`` counts new observations; ``width`` is the first step, in the unit box.
    """
    if start.x.size == 0:
        return start
    strategy = _Strategy(start.x, width, np.random.default_rng(seed))
    multipliers = _Multipliers()
    visited = [start]
    spent_at = len(archive) + budget
    # Re-visited points cost nothing, so a cap on rounds keeps a finished search from idling.
    for _ in range(2 + 2 * budget // strategy.size):
        if len(archive) + strategy.size > spent_at or strategy.width < 1e-9:
            break
        places = strategy.ask()
        found = [archive.at(start.option, np.clip(x, 0.0, 1.0)) for x in places]
        visited += found
        judged = [judge(point.option, point.x, point.outcome) for point in found]
        costs = np.array([cost for cost, _ in judged])
        broken = np.stack([violations for _, violations in judged])
        outside = ((places - np.clip(places, 0.0, 1.0)) ** 2).sum(axis=1)
        values = multipliers.lagrangian(costs, broken)
        range_ = np.ptp(values) if len(values) > 1 else 1.0
        order = np.argsort(values + outside / strategy.width**2 * (range_ + 1e-12), kind="stable")
        strategy.tell(places[order])
        multipliers.update(broken[order[: strategy.parents]], strategy.weights)
    return best(judge, visited)


def polish(
    archive: Archive,
    judge: Judge,
    start: Point,
    *,
    grid: Callable[[int, Vector], Vector],
    steps: Vector,
    budget: int,
) -> Point:
    """Compass search on a grid: the nearest grid point, then single moves that help, to the end.

    ``grid`` snaps a place onto what can be set; ``steps`` (levels, n) are the moves tried, coarse
    to fine. The answer lies on the grid.
    """
    here = archive.at(start.option, grid(start.option, start.x))
    spent_at = len(archive) + budget
    for level in np.atleast_2d(steps):
        improved = True
        while improved and len(archive) < spent_at:
            improved = False
            for index, sign in ((i, s) for i in range(start.x.size) for s in (1.0, -1.0)):
                if len(archive) >= spent_at:
                    break
                place = here.x.copy()
                place[index] = np.clip(place[index] + sign * level[index], 0.0, 1.0)
                there = archive.at(start.option, grid(start.option, place))
                if merit(judge, there) < merit(judge, here):
                    here, improved = there, True
    return here


def _ranked(archive: Archive, judge: Judge, options: Sequence[int]) -> list[int]:
    def key(option: int) -> tuple[float, float]:
        mine = [point for point in archive.points if point.option == option]
        return min(merit(judge, point) for point in mine)

    return sorted(options, key=key)


class _Multipliers:
    """Augmented Lagrangian for violations <= 0; weights grow only where a limit stays broken."""

    def __init__(self) -> None:
        self._gamma: Vector | None = None
        self._omega: Vector | None = None

    def lagrangian(self, costs: Vector, broken: Vector) -> Vector:
        """Cost plus what the limits charge, (points,)."""
        if self._gamma is None or self._omega is None:
            # Start so that a usual violation weighs as much as the usual spread of the cost.
            usual = np.mean(np.maximum(broken, 0.0) ** 2, axis=0) + 0.01 * np.mean(
                broken**2, axis=0
            )
            self._omega = np.clip((np.std(costs) + 1e-9) / (usual + 1e-12), 1e-3, 1e9)
            self._gamma = np.zeros(broken.shape[1])
        active = np.maximum(broken, -self._gamma / self._omega)
        return costs + (active * self._gamma + 0.5 * self._omega * active**2).sum(axis=1)

    def update(self, broken: Vector, weights: Vector) -> None:
        """Follow the mean of the parents' violations."""
        if self._gamma is None or self._omega is None:
            return
        mean = weights @ broken
        self._gamma = np.maximum(self._gamma + self._omega * mean / 4.0, 0.0)
        never_kept = (broken > 0).all(axis=0) & (mean > 1e-9)
        self._omega = np.where(never_kept, self._omega * 1.3, self._omega)


class _Strategy:
    """Covariance matrix adaptation, the tutorial's default settings; places lie near 0..1."""

    def __init__(self, mean: Vector, width: float, random: np.random.Generator) -> None:
        n = mean.size
        self.size = 4 + int(3 * math.log(n))
        self.parents = self.size // 2
        raw = math.log((self.size + 1) / 2) - np.log(np.arange(1, self.parents + 1))
        self.weights: Vector = raw / raw.sum()
        self.width = width
        self._mean, self._random, self._n = mean.copy(), random, n
        self._effective = 1.0 / float((self.weights**2).sum())
        self._path_c, self._path_s = np.zeros(n), np.zeros(n)
        self._covariance, self._axes, self._lengths = np.eye(n), np.eye(n), np.ones(n)
        self._rounds = 0
        self._set_rates()

    def _set_rates(self) -> None:
        n, mu = self._n, self._effective
        self._c_path = (4 + mu / n) / (n + 4 + 2 * mu / n)
        self._c_step = (mu + 2) / (n + mu + 5)
        self._c_one = 2 / ((n + 1.3) ** 2 + mu)
        self._c_mu = min(1 - self._c_one, 2 * (mu - 2 + 1 / mu) / ((n + 2) ** 2 + mu))
        self._damping = 1 + 2 * max(0.0, math.sqrt((mu - 1) / (n + 1)) - 1) + self._c_step
        self._expected = math.sqrt(n) * (1 - 1 / (4 * n) + 1 / (21 * n * n))

    def ask(self) -> Vector:
        """Places to look at, (size, n), some a little outside the box."""
        normal = self._random.standard_normal((self.size, self._n))
        return self._mean + self.width * (normal * self._lengths) @ self._axes.T

    def tell(self, ordered: Vector) -> None:
        """Learn from the places, best first."""
        self._rounds += 1
        steps = (ordered[: self.parents] - self._mean) / self.width
        step = self.weights @ steps
        self._mean = self._mean + self.width * step
        whitened = self._axes @ ((self._axes.T @ step) / self._lengths)
        gain_s = math.sqrt(self._c_step * (2 - self._c_step) * self._effective)
        self._path_s = (1 - self._c_step) * self._path_s + gain_s * whitened
        length = float(np.linalg.norm(self._path_s))
        fading = math.sqrt(1 - (1 - self._c_step) ** (2 * self._rounds))
        steady = length / fading < (1.4 + 2 / (self._n + 1)) * self._expected
        gain_c = math.sqrt(self._c_path * (2 - self._c_path) * self._effective) * steady
        self._path_c = (1 - self._c_path) * self._path_c + gain_c * step
        kept = 1 - self._c_one - self._c_mu
        kept += (1 - steady) * self._c_one * self._c_path * (2 - self._c_path)
        self._covariance = (
            kept * self._covariance
            + self._c_one * np.outer(self._path_c, self._path_c)
            + self._c_mu * (steps.T * self.weights) @ steps
        )
        self.width *= math.exp(
            min(1.0, (length / self._expected - 1) * self._c_step / self._damping)
        )
        eigenvalues, self._axes = np.linalg.eigh((self._covariance + self._covariance.T) / 2)
        self._lengths = np.sqrt(np.maximum(eigenvalues, 1e-20))
