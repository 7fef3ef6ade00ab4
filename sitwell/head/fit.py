"""The sitter's head from one to a few frames: one shape, and a pose and an expression in each.

Least squares (Gauss-Newton) over shape sliders, shared by all frames, and each frame's pose and
expression. What the landmarks are expected to do is not only projection: they slide as the head
turns, and their errors are shared within a frame and within a sitter (``bias.py``). Sizes rest on
a known distance or interpupillary distance; a picture alone has none.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.threads import one_blas_thread
from sitwell.base.words import tr
from sitwell.head.basis import eye_centre_basis
from sitwell.head.bias import LandmarkBias, load_bias, trust_in
from sitwell.head.evidence import Evidence, landmark_evidence
from sitwell.head.expression import expected_expression
from sitwell.head.hairline import marked_hairline_mm
from sitwell.head.obscured import precision_with
from sitwell.head.placed import mark_evidence
from sitwell.head.pose import HeadPose, Sighting, is_still, rough_pose
from sitwell.head.prior import shape_sigma
from sitwell.head.spread import FrameSpread, frame_spread
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template

MEAN_IPD_MM, IPD_SPREAD_MM = 63.0, 3.6
_IPD_HOLD_MM = 0.3  # how tightly the fit keeps the distance between the pupils that it is told
DISTANCE_SPREAD_SHARE = 0.02  # of a distance taken with a tape
_MOST_STEPS = 12
_HOLDING_ROUNDS = 4
_HELD = 1e8  # tightness of an unknown that must not move
_STILL = 0.05  # of a sigma: the fit has settled

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedFrame:
    """One frame's part of a fit: pose, its spread, and shape (K,) and expression (E,) sliders."""

    pose: HeadPose
    spread: FrameSpread
    shape: Array
    expression: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A fitted head (without expression) and its frames, in the order they were given.

    ``strain`` compares what is left with what invented heads leave: about 1 when the frames show
    one face, more when they don't. ``shape_covariance`` (K, K) is the uncertainty of the shape.
    """

    head: Head
    frames: tuple[FittedFrame, ...]
    strain: float
    shape_covariance: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """Unknowns: shape (K,) and sitter's own error (S,) in sigmas; expression and pose a frame."""

    shape: Array
    sitter: Array
    expressions: tuple[Array, ...]
    poses: tuple[HeadPose, ...]


def fit_head(
    sightings: Sequence[Sighting],
    *,
    ipd_mm: float | None = None,
    distances_mm: Sequence[float | None] | None = None,
    bias: LandmarkBias | None = None,
) -> Fit:
    """Fit one head to frames of one sitter.

    ``ipd_mm`` is their measured interpupillary distance (63 mm with a spread of 3.6 otherwise);
    ``distances_mm`` are distances measured on the set, lens to eyes, None where not measured.
    Raises HeadError without a frame.
    """
    if not sightings:
        raise HeadError(tr("A head can't be fitted to no frames; give one to three photographs."))
    measured = tuple(distances_mm or [None] * len(sightings))
    with one_blas_thread():
        return _Problem(tuple(sightings), bias or load_bias(), ipd_mm, measured).solved()


class _Problem:
    """The layout of the unknowns and the equations between them."""

    def __init__(
        self,
        sightings: tuple[Sighting, ...],
        bias: LandmarkBias,
        ipd_mm: float | None,
        distances_mm: tuple[float | None, ...],
    ) -> None:
        self.sightings, self.bias = sightings, bias
        self.trust = trust_in(bias)
        self.trusts = [
            dataclasses.replace(self.trust, in_frame=precision_with(bias, sighting.obscured))
            for sighting in sightings
        ]
        self.ipd_mm, self.distances_mm = ipd_mm, distances_mm
        self.sigma = shape_sigma()
        self.shapes, self.sitters = len(self.sigma), len(self.trust.sitter_modes)
        self.expected = [
            expected_expression(
                sighting.blendshapes,
                gaze_marked=any(mark.name.startswith("iris") for mark in sighting.marks),
            )
            for sighting in sightings
        ]
        self.expressions = len(load_template().expression_names)
        self.shared = self.shapes + self.sitters
        self.own = self.expressions + 6
        self.size = self.shared + self.own * len(sightings)

    def solved(self) -> Fit:
        """Step until no pose and no shape slider moves."""
        state = self.start()
        for count in range(_MOST_STEPS):
            matrix, pull, _ = self.normal_equations(state)
            step, _ = self.step(state, matrix, pull)
            state = self.moved(state, step)
            if count > 2 and self.is_settled(step):
                break
        return self.result(state)

    def start(self) -> _State:
        """The mean head, placed in each frame by its scaled orthographic fit."""
        return _State(
            shape=np.zeros(self.shapes),
            sitter=np.zeros(self.sitters),
            expressions=tuple(mean for mean, _ in self.expected),
            poses=tuple(rough_pose(sighting) for sighting in self.sightings),
        )

    def normal_equations(self, state: _State) -> tuple[Array, Array, float]:
        """Matrix (P, P) and right side (P,) of the next step, and the misfit (chi square)."""
        matrix, pull = self._prior(state)
        misfit = 0.0
        for index, sighting in enumerate(self.sightings):
            columns = self._columns(index)
            for evidence in self._evidence(state, index, sighting):
                matrix[np.ix_(columns, columns)] += evidence.matrix
                pull[columns] += evidence.pull
                misfit += evidence.misfit
        self._add_size(state, matrix, pull)
        return matrix, pull, misfit

    def step(self, state: _State, matrix: Array, pull: Array) -> tuple[Array, Array]:
        """The next step (P,) that takes no expression below 0, and the matrix that gave it."""
        at_rest = np.zeros(self.size)
        for index, expression in enumerate(state.expressions):
            own = self.shared + index * self.own
            at_rest[own : own + self.expressions] = -expression
        is_expression = np.arange(self.size) >= self.shared
        is_expression &= (np.arange(self.size) - self.shared) % self.own < self.expressions
        for _ in range(_HOLDING_ROUNDS):
            step = _solve(matrix, pull)
            below = is_expression & (step < at_rest - 1e-6)
            if not below.any():
                break
            matrix = matrix + np.diag(_HELD * below)
            pull = pull + _HELD * below * at_rest
        return step, matrix

    def _pose(self, index: int) -> slice:
        end = self.shared + (index + 1) * self.own
        return slice(end - 6, end)

    def _columns(self, index: int) -> NDArray[np.int64]:
        own = self.shared + index * self.own
        return np.r_[0 : self.shared, own : own + self.own]

    def _evidence(self, state: _State, index: int, sighting: Sighting) -> list[Evidence]:
        shape, expression = state.shape * self.sigma, state.expressions[index]
        pose = state.poses[index]
        focal_px, trust = sighting.focal.px_at(pose.distance_mm), self.trusts[index]
        parts = [
            landmark_evidence(
                sighting, pose, focal_px, shape, expression, state.sitter, self.bias, trust
            )
        ]
        if sighting.marks:
            parts.append(mark_evidence(sighting, pose, focal_px, shape, expression, self.sitters))
        return parts

    def _prior(self, state: _State) -> tuple[Array, Array]:
        tightness = np.ones(self.size)
        value = np.zeros(self.size)
        value[: self.shared] = np.r_[state.shape, state.sitter]
        for index, expression in enumerate(state.expressions):
            own = self.shared + index * self.own
            mean, sigma = self.expected[index]
            tightness[own : own + self.expressions] = sigma**-2.0
            tightness[own + self.expressions : own + self.own] = 0.0
            value[own : own + self.expressions] = expression - mean
        return np.diag(tightness), -tightness * value

    def _add_size(self, state: _State, matrix: Array, pull: Array) -> None:
        """What the sizes rest on: measured distances, or else the interpupillary distance."""
        measured = False
        for index, distance_mm in enumerate(self.distances_mm):
            if distance_mm is None:
                continue
            measured = True
            pose = state.poses[index]
            row = np.zeros(self.size)
            row[self._pose(index)][3:] = pose.place_mm / pose.distance_mm
            spread_mm = DISTANCE_SPREAD_SHARE * distance_mm
            _add_row(matrix, pull, row, distance_mm - pose.distance_mm, spread_mm)
        mean, slope = eye_centre_basis()
        centres = mean + np.tensordot(state.shape * self.sigma, slope, 1)
        apart = centres[0] - centres[1]
        ipd_mm = float(np.linalg.norm(apart))
        row = np.zeros(self.size)
        row[: self.shapes] = (slope[:, 0] - slope[:, 1]) @ (apart / ipd_mm) * self.sigma
        wanted_mm = MEAN_IPD_MM if self.ipd_mm is None else self.ipd_mm
        spread_mm = IPD_SPREAD_MM if measured and self.ipd_mm is None else _IPD_HOLD_MM
        _add_row(matrix, pull, row, wanted_mm - ipd_mm, spread_mm)

    def is_settled(self, step: Array) -> bool:
        """Whether a step moves no pose and no shape slider worth mentioning."""
        poses = (step[self._pose(index)] for index in range(len(self.sightings)))
        return bool(np.abs(step[: self.shapes]).max() < _STILL) and all(map(is_still, poses))

    def moved(self, state: _State, step: Array) -> _State:
        """The state after a step; expressions stay within 0 and 1.2."""
        expressions, poses = [], []
        for index, (expression, pose) in enumerate(
            zip(state.expressions, state.poses, strict=True)
        ):
            own = step[self.shared + index * self.own :][: self.own]
            expressions.append(np.clip(expression + own[: self.expressions], 0.0, 1.2))
            poses.append(pose.moved(own[self.expressions :]))
        return _State(
            shape=state.shape + step[: self.shapes],
            sitter=state.sitter + step[self.shapes : self.shared],
            expressions=tuple(expressions),
            poses=tuple(poses),
        )

    def result(self, state: _State) -> Fit:
        """The head and its frames, with spreads from the equations at the end."""
        matrix, pull, misfit = self.normal_equations(state)
        _, matrix = self.step(state, matrix, pull)
        strain = float(np.sqrt(misfit / (len(self.bias.directions) * len(self.sightings))))
        covariance = _solve(matrix, np.eye(self.size))
        shape = (state.shape * self.sigma).astype(np.float32)
        still = np.zeros(self.expressions, dtype=np.float32)
        head = head_from_values(load_template(), shape, still)
        hairline_mm = marked_hairline_mm(head, self.sightings, state.poses)
        if hairline_mm is not None:
            head = head_from_values(load_template(), shape, still, hairline_mm)
        frames = tuple(
            FittedFrame(
                pose=pose,
                spread=self._spread(state, index, covariance, max(strain, 1.0)),
                shape=state.shape * self.sigma,
                expression=state.expressions[index],
            )
            for index, pose in enumerate(state.poses)
        )
        shapes = slice(0, self.shapes)
        return Fit(
            head=head,
            frames=frames,
            strain=strain,
            shape_covariance=np.outer(self.sigma, self.sigma) * covariance[shapes, shapes],
        )

    def _spread(self, state: _State, index: int, covariance: Array, strain: float) -> FrameSpread:
        sighting, pose = self.sightings[index], self._pose(index)
        if any(self.distances_mm):
            size_share = 0.0
        elif self.ipd_mm is not None:
            size_share = _IPD_HOLD_MM / self.ipd_mm
        else:
            size_share = IPD_SPREAD_MM / MEAN_IPD_MM
        return frame_spread(
            state.poses[index],
            covariance[pose, pose] * strain**2,
            (covariance @ self._focal_pull(state, index))[pose],
            sighting.focal.spread,
            size_share,
            self.bias.spread_scale,
        )

    def _focal_pull(self, state: _State, index: int) -> Array:
        """How the right side of the equations answers a relative change of a focal length."""
        sighting, share = self.sightings[index], 1e-5
        focal = dataclasses.replace(sighting.focal, px=sighting.focal.px * (1.0 + share))
        longer = dataclasses.replace(sighting, focal=focal)
        here = self._evidence(state, index, sighting)
        there = self._evidence(state, index, longer)
        pull = np.zeros(self.size)
        for before, after in zip(here, there, strict=True):
            pull[self._columns(index)] += (after.pull - before.pull) / share
        return pull


def _solve(matrix: Array, right: Array) -> Array:
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)


def _add_row(matrix: Array, pull: Array, row: Array, rest: float, spread: float) -> None:
    matrix += np.outer(row, row) / spread**2
    pull += row * rest / spread**2
