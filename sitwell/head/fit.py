"""The sitter's head from one to a few frames: one shape, and a pose and an expression in each.

Least squares (Gauss-Newton) over shape sliders, shared by all frames, and each frame's pose and
expression. What the landmarks are expected to do is not only projection: they slide as the head
turns, and their errors are shared within a frame and within a sitter (``bias.py``). Where the
pictures are given, the skin itself is followed from frame to frame (``follow.py``), which the
angles between frames then mostly rest on. Sizes rest on a known distance or interpupillary
distance; a picture alone has none.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.threads import one_blas_thread
from sitwell.base.words import tr
from sitwell.brief.focal import Focal
from sitwell.head.bias import LandmarkBias, load_bias
from sitwell.head.follow import ROUNDS_MM, ties
from sitwell.head.hairline import (
    UNMARKED_SPREAD_MM,
    hairline_spread_mm,
    marked_hairline_mm,
)
from sitwell.head.pose import HeadPose, Sighting
from sitwell.head.problem import Known, Problem, State, solve
from sitwell.head.spread import FrameSpread, frame_spread
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.head.unknown_lens import is_unsure, with_likelier_lens
from sitwell.head.unroll import FacePicture, Unrolled, unroll

_MOST_STEPS, _STEPS_A_ROUND, _LENS_ROUNDS = 12, 3, 5

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedFrame:
    """One frame's part of a fit: pose, its spread, and shape (K,) and expression (E,) sliders.

    ``focal`` is the lens that the frame was laid with: found, where its file leaves it open.
    """

    pose: HeadPose
    focal: Focal
    spread: FrameSpread
    shape: Array
    expression: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A fitted head (without expression) and its frames, in the order they were given.

    ``strain`` compares what is left with what invented heads leave: about 1 when the frames show
    one face, more when they don't. ``shape_covariance`` (K, K) is the uncertainty of the shape and
    ``size_share`` that of all lengths together, one sigma as a share of them;
    ``hairline_spread_mm`` is how far off the hairline may lie, ``eye_ratio_spread`` the ratio of
    the eyes' openings (0 until their lids are set, ``habit.py``); ``known`` is what another frame
    of the same sitter may start from.
    """

    head: Head
    frames: tuple[FittedFrame, ...]
    strain: float
    shape_covariance: Array
    size_share: float
    known: Known
    hairline_spread_mm: float = UNMARKED_SPREAD_MM
    eye_ratio_spread: float = 0.0


def fit_head(
    sightings: Sequence[Sighting],
    *,
    ipd_mm: float | None = None,
    distances_mm: Sequence[float | None] | None = None,
    bias: LandmarkBias | None = None,
    known: Known | None = None,
    pictures: Sequence[FacePicture | None] = (),
) -> Fit:
    """Fit one head to frames of one sitter, of whom other frames may have told what is ``known``.

    ``ipd_mm`` is their measured interpupillary distance (63 mm with a spread of 3.6 otherwise);
    ``distances_mm`` are distances measured on the set, lens to eyes, None where not measured. With
    ``pictures`` of two frames or more the skin is followed between them, but for those None.
    Raises HeadError without a frame.
    """
    if not sightings:
        raise HeadError(tr("A head can't be fitted to no frames; give one to three photographs."))
    measured = tuple(distances_mm or [None] * len(sightings))
    with one_blas_thread():
        problem = Problem(tuple(sightings), bias or load_bias(), ipd_mm, measured, known)
        state = _with_lenses(problem, _settled(problem, problem.start(), _MOST_STEPS))
        if sum(picture is not None for picture in pictures) > 1:
            state = _followed(problem, state, pictures)
        return _result(problem, state)


def _settled(problem: Problem, state: State, most_steps: int) -> State:
    """Step until no pose and no shape slider moves."""
    for count in range(most_steps):
        matrix, pull, _ = problem.normal_equations(state)
        step, _ = problem.step(state, matrix, pull)
        state = problem.moved(state, step)
        if count > 2 and problem.is_settled(step):
            break
    return state


def _with_lenses(problem: Problem, state: State) -> State:
    """Find the focal lengths that the files leave open, and settle with them."""
    told = tuple(sighting.focal for sighting in problem.sightings)
    if any(map(is_unsure, told)):
        for _ in range(_LENS_ROUNDS):
            state = with_likelier_lens(problem, state, told)
            state = _settled(problem, state, _STEPS_A_ROUND)
    return state


def _followed(problem: Problem, state: State, pictures: Sequence[FacePicture | None]) -> State:
    """Lay the frames' skins on each other, coarsely first, and let them pull at the head."""
    for sizes_mm in ROUNDS_MM:
        problem.unrolled = {
            index: _unrolled(problem, state, index, picture)
            for index, picture in enumerate(pictures)
            if picture is not None
        }
        problem.ties = ties(problem.unrolled, state.poses, sizes_mm)
        state = _settled(problem, state, _STEPS_A_ROUND)
    return state


def _unrolled(problem: Problem, state: State, index: int, picture: FacePicture) -> Unrolled:
    sighting, pose = problem.sightings[index], state.poses[index]
    shape = (state.shape * problem.sigma).astype(np.float32)
    head = head_from_values(load_template(), shape, state.expressions[index].astype(np.float32))
    focal_px = sighting.focal.px_at(pose.distance_mm)
    return unroll(picture, head, pose, focal_px, sighting.centre_px, sighting.obscured)


def _result(problem: Problem, state: State) -> Fit:
    """The head and its frames, with spreads from the equations at the end."""
    matrix, pull, misfit = problem.normal_equations(state)
    _, matrix = problem.step(state, matrix, pull)
    strain = float(np.sqrt(misfit / (len(problem.bias.directions) * len(problem.sightings))))
    covariance = solve(matrix, np.eye(problem.size))
    shape = (state.shape * problem.sigma).astype(np.float32)
    still = np.zeros(problem.expressions, dtype=np.float32)
    head = head_from_values(load_template(), shape, still)
    hairline_mm = marked_hairline_mm(head, problem.sightings, state.poses)
    if hairline_mm is not None:
        head = head_from_values(load_template(), shape, still, hairline_mm)
    frames = tuple(
        FittedFrame(
            pose=pose,
            focal=problem.sightings[index].focal,
            spread=_spread(problem, state, index, covariance, max(strain, 1.0)),
            shape=state.shape * problem.sigma,
            expression=state.expressions[index],
        )
        for index, pose in enumerate(state.poses)
    )
    shapes, shared = slice(0, problem.shapes), slice(0, problem.shared)
    return Fit(
        head=head,
        frames=frames,
        strain=strain,
        shape_covariance=np.outer(problem.sigma, problem.sigma) * covariance[shapes, shapes],
        size_share=problem.size_share,
        hairline_spread_mm=hairline_spread_mm(problem.sightings, state.poses),
        known=Known(
            values=np.r_[state.shape, state.sitter],
            tightness=solve(covariance[shared, shared], np.eye(problem.shared)),
        ),
    )


def _spread(
    problem: Problem, state: State, index: int, covariance: Array, strain: float
) -> FrameSpread:
    sighting, pose = problem.sightings[index], problem.pose_of(index)
    return frame_spread(
        state.poses[index],
        covariance[pose, pose] * strain**2,
        (covariance @ problem.focal_pull(state, index))[pose],
        sighting.focal.spread_at(state.poses[index].distance_mm),
        problem.size_share,
        problem.bias.spread_scale,
    )
