"""The equations of a fit: what is unknown, and how landmarks, marks, skin and sizes pull at it.

Unknown are a shape and the landmarks' own error on this sitter, shared by all frames, and each
frame's expression and pose.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.basis import eye_centre_basis
from sitwell.head.bias import LandmarkBias, trust_in
from sitwell.head.evidence import Evidence, landmark_evidence
from sitwell.head.expression import expected_expression
from sitwell.head.follow import Slide, Tie, slide, tie_evidence
from sitwell.head.marks_on_frame import mark_evidence
from sitwell.head.obscured import precision_with
from sitwell.head.pose import HeadPose, Sighting, is_still, rough_pose
from sitwell.head.prior import shape_sigma
from sitwell.head.spread import far_turned
from sitwell.head.template import load_template
from sitwell.head.unroll import Unrolled

MEAN_IPD_MM, IPD_SPREAD_MM = 63.0, 3.6
# How far off a length is that rests on a right distance between the pupils, as a share: heads are
# drawn toward our mean one's proportions (benchmarks/accuracy_families.py).
PROPORTION_SHARE = 0.03
IPD_HOLD_MM = 0.3  # how tightly the fit keeps the distance between the pupils that it is told
DISTANCE_SPREAD_SHARE = 0.02  # of a distance taken with a tape
_HOLDING_ROUNDS = 4
_HELD = 1e8  # tightness of an unknown that must not move
_STILL = 0.05  # of a sigma: the fit has settled

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What frames told of a sitter: shape sliders in sigmas and the landmarks' own error on them.

    ``values`` (P,) and their ``tightness`` (P, P), the inverse covariance.
    """

    values: Array
    tightness: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Unknowns: shape (K,) and sitter's own error (S,) in sigmas; expression and pose a frame."""

    shape: Array
    sitter: Array
    expressions: tuple[Array, ...]
    poses: tuple[HeadPose, ...]


class Problem:
    """The layout of the unknowns and the equations between them."""

    def __init__(
        self,
        sightings: tuple[Sighting, ...],
        bias: LandmarkBias,
        ipd_mm: float | None,
        distances_mm: tuple[float | None, ...],
        known: Known | None,
    ) -> None:
        self.sightings, self.bias, self.known = sightings, bias, known
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
        self.unrolled: Mapping[int, Unrolled] = {}
        self.ties: Sequence[Tie] = ()

    @property
    def size_share(self) -> float:
        """One sigma of all lengths together, as a share of them, beside what the shape leaves."""
        if any(self.distances_mm):
            return 0.0
        usual = IPD_SPREAD_MM / MEAN_IPD_MM if self.ipd_mm is None else 0.0
        return float(np.hypot(usual, PROPORTION_SHARE))

    def start(self) -> State:
        """What is known, else the mean head, placed in each frame by a scaled orthographic fit."""
        values = self.known.values if self.known else np.zeros(self.shared)
        return State(
            shape=values[: self.shapes],
            sitter=values[self.shapes :],
            expressions=tuple(mean for mean, _ in self.expected),
            poses=tuple(rough_pose(sighting) for sighting in self.sightings),
        )

    def normal_equations(self, state: State) -> tuple[Array, Array, float]:
        """Matrix (P, P) and right side (P,) of the next step, and the misfit (chi square)."""
        matrix, pull = self._prior(state)
        misfit = 0.0
        for index, sighting in enumerate(self.sightings):
            columns = self._columns(index)
            for evidence in self._evidence(state, index, sighting):
                matrix[np.ix_(columns, columns)] += evidence.matrix
                pull[columns] += evidence.pull
                misfit += evidence.misfit
        self._add_ties(state, matrix, pull)
        self._add_size(state, matrix, pull)
        return matrix, pull, misfit

    def step(self, state: State, matrix: Array, pull: Array) -> tuple[Array, Array]:
        """The next step (P,) that takes no expression below 0, and the matrix that gave it."""
        at_rest = np.zeros(self.size)
        for index, expression in enumerate(state.expressions):
            own = self.shared + index * self.own
            at_rest[own : own + self.expressions] = -expression
        is_expression = np.arange(self.size) >= self.shared
        is_expression &= (np.arange(self.size) - self.shared) % self.own < self.expressions
        for _ in range(_HOLDING_ROUNDS):
            step = solve(matrix, pull)
            below = is_expression & (step < at_rest - 1e-6)
            if not below.any():
                break
            matrix = matrix + np.diag(_HELD * below)
            pull = pull + _HELD * below * at_rest
        return step, matrix

    def pose_of(self, index: int) -> slice:
        """The place of a frame's pose among the unknowns."""
        end = self.shared + (index + 1) * self.own
        return slice(end - 6, end)

    def _columns(self, index: int) -> NDArray[np.int64]:
        own = self.shared + index * self.own
        return np.r_[0 : self.shared, own : own + self.own]

    def _evidence(self, state: State, index: int, sighting: Sighting) -> list[Evidence]:
        shape, expression = state.shape * self.sigma, state.expressions[index]
        pose = state.poses[index]
        focal_px, trust = sighting.focal.px_at(pose.distance_mm), self.trusts[index]
        if (farther := far_turned(pose)) > 1.0:
            trust = dataclasses.replace(trust, in_frame=trust.in_frame / farther**2)
        parts = [
            landmark_evidence(
                sighting, pose, focal_px, shape, expression, state.sitter, self.bias, trust
            )
        ]
        if sighting.marks:
            parts.append(mark_evidence(sighting, pose, focal_px, shape, expression, self.sitters))
        return parts

    def _prior(self, state: State) -> tuple[Array, Array]:
        tightness = np.ones(self.size)
        value = np.zeros(self.size)
        value[: self.shared] = np.r_[state.shape, state.sitter]
        for index, expression in enumerate(state.expressions):
            own = self.shared + index * self.own
            mean, sigma = self.expected[index]
            tightness[own : own + self.expressions] = sigma**-2.0
            tightness[own + self.expressions : own + self.own] = 0.0
            value[own : own + self.expressions] = expression - mean
        matrix, pull = np.diag(tightness), -tightness * value
        if self.known:
            shared = slice(0, self.shared)
            matrix[shared, shared] = self.known.tightness
            pull[shared] = self.known.tightness @ (self.known.values - value[shared])
        return matrix, pull

    def _add_ties(self, state: State, matrix: Array, pull: Array) -> None:
        """What the skin that two frames share says of both."""
        slides = {
            index: self._slide(state, index)
            for index in {index for tie in self.ties for index in (tie.first, tie.second)}
        }
        for tie in self.ties:
            evidence = tie_evidence(tie, slides[tie.first], slides[tie.second])
            columns = np.r_[
                0 : self.shapes, *(self._columns(i)[self.shared :] for i in (tie.first, tie.second))
            ]
            matrix[np.ix_(columns, columns)] += evidence.matrix
            pull[columns] += evidence.pull

    def _slide(self, state: State, index: int) -> Slide:
        sighting, pose = self.sightings[index], state.poses[index]
        return slide(
            self.unrolled[index],
            state.shape * self.sigma,
            state.expressions[index],
            pose,
            sighting.focal.px_at(pose.distance_mm),
            sighting.centre_px,
        )

    def _add_size(self, state: State, matrix: Array, pull: Array) -> None:
        """What the sizes rest on: measured distances, or else the interpupillary distance."""
        measured = False
        for index, distance_mm in enumerate(self.distances_mm):
            if distance_mm is None:
                continue
            measured = True
            pose = state.poses[index]
            row = np.zeros(self.size)
            row[self.pose_of(index)][3:] = pose.place_mm / pose.distance_mm
            spread_mm = DISTANCE_SPREAD_SHARE * distance_mm
            _add_row(matrix, pull, row, distance_mm - pose.distance_mm, spread_mm)
        mean, slope = eye_centre_basis()
        centres = mean + np.tensordot(state.shape * self.sigma, slope, 1)
        apart = centres[0] - centres[1]
        ipd_mm = float(np.linalg.norm(apart))
        row = np.zeros(self.size)
        row[: self.shapes] = (slope[:, 0] - slope[:, 1]) @ (apart / ipd_mm) * self.sigma
        wanted_mm = MEAN_IPD_MM if self.ipd_mm is None else self.ipd_mm
        spread_mm = IPD_SPREAD_MM if measured and self.ipd_mm is None else IPD_HOLD_MM
        _add_row(matrix, pull, row, wanted_mm - ipd_mm, spread_mm)

    def is_settled(self, step: Array) -> bool:
        """Whether a step moves no pose and no shape slider worth mentioning."""
        poses = (step[self.pose_of(index)] for index in range(len(self.sightings)))
        return bool(np.abs(step[: self.shapes]).max() < _STILL) and all(map(is_still, poses))

    def moved(self, state: State, step: Array) -> State:
        """The state after a step; expressions stay within 0 and 1.2."""
        expressions, poses = [], []
        for index, (expression, pose) in enumerate(
            zip(state.expressions, state.poses, strict=True)
        ):
            own = step[self.shared + index * self.own :][: self.own]
            expressions.append(np.clip(expression + own[: self.expressions], 0.0, 1.2))
            poses.append(pose.moved(own[self.expressions :]))
        return State(
            shape=state.shape + step[: self.shapes],
            sitter=state.sitter + step[self.shapes : self.shared],
            expressions=tuple(expressions),
            poses=tuple(poses),
        )

    def misfit_at(self, state: State, index: int, share: float) -> float:
        """The misfit of one frame were its focal length longer by a share, all else as it is."""
        evidence = self._evidence(state, index, _with_longer(self.sightings[index], share))
        return sum(part.misfit for part in evidence)

    def focal_pull(self, state: State, index: int) -> Array:
        """How the right side of the equations answers a relative change of a focal length."""
        sighting, share = self.sightings[index], 1e-5
        here = self._evidence(state, index, sighting)
        there = self._evidence(state, index, _with_longer(sighting, share))
        pull = np.zeros(self.size)
        for before, after in zip(here, there, strict=True):
            pull[self._columns(index)] += (after.pull - before.pull) / share
        return pull


def _with_longer(sighting: Sighting, share: float) -> Sighting:
    """The sighting as if by a lens longer by a share."""
    focal = dataclasses.replace(sighting.focal, px=sighting.focal.px * (1.0 + share))
    return dataclasses.replace(sighting, focal=focal)


def solve(matrix: Array, right: Array) -> Array:
    """The solution of linear equations."""
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)


def _add_row(matrix: Array, pull: Array, row: Array, rest: float, spread: float) -> None:
    matrix += np.outer(row, row) / spread**2
    pull += row * rest / spread**2
