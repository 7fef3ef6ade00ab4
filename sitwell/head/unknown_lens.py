"""What focal length a frame was taken with where its file doesn't tell.

Two things speak. Perspective: a near face shows its middle large beside its ears, and a far one
flat. And habit: portraits are taken from about arm's length to a few metres, mostly by normal to
short long lenses (common practice; the numbers are judgements). Each is weighed by how sure it is.
"""

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.focal import Focal
from sitwell.head.pose import HeadPose
from sitwell.head.problem import Problem, State, solve

# From so unsure a focal length on it is sought; one sigma as a share of it.
UNSURE_SHARE = 0.2
# The distance from which faces are usually photographed, and one sigma of its logarithm.
USUAL_MM, USUAL_SPREAD = 1300.0, 0.6
# Heads depart from the sliders just where perspective shows: on a second family of heads, taken at
# its word, it put them a third too far. So it counts for so much less.
_PERSPECTIVE_TRUST = 0.04
_NEVER_SURER = 0.15  # than this share: what is found stays a guess
_STEP, _FARTHEST = 2e-3, 0.4  # of the logarithm: to take slopes by, and at most in one go

Array = NDArray[np.float64]


def is_unsure(focal: Focal) -> bool:
    """Whether the file leaves the focal length open."""
    return focal.spread >= UNSURE_SHARE


def with_likelier_lens(problem: Problem, state: State, told: tuple[Focal, ...]) -> State:
    """One step of every open focal length toward the likeliest, the heads moved along.

    ``told`` are the focal lengths as the files left them. The problem's sightings are replaced.
    """
    matrix, _, misfit = problem.normal_equations(state)
    parts = len(problem.bias.directions) * len(problem.sightings)
    trust = _PERSPECTIVE_TRUST / max(1.0, misfit / parts)
    sightings, poses = list(problem.sightings), list(state.poses)
    for index, sighting in enumerate(sightings):
        if not is_unsure(told[index]):
            continue
        slope, bend = _perspective(problem, state, index, matrix)
        spread, off = told[index].spread, math.log(sighting.focal.px / told[index].px)
        away = math.log(poses[index].distance_mm / USUAL_MM)
        measured = problem.distances_mm[index] is not None
        held = 0.0 if measured else USUAL_SPREAD**-2.0
        pull = -trust * slope - off / spread**2 - away * held
        tightness = trust * bend + spread**-2.0 + held
        step = float(np.clip(pull / tightness, -_FARTHEST, _FARTHEST))
        focal = dataclasses.replace(
            sighting.focal,
            px=sighting.focal.px * math.exp(step),
            equivalent_mm=sighting.focal.equivalent_mm * math.exp(step),
            spread=math.hypot(tightness**-0.5, _NEVER_SURER),
        )
        sightings[index] = dataclasses.replace(sighting, focal=focal)
        if not measured:
            place = poses[index].place_mm * math.exp(step)
            poses[index] = HeadPose(rotation=poses[index].rotation, place_mm=place)
    problem.sightings = tuple(sightings)
    return dataclasses.replace(state, poses=tuple(poses))


def _perspective(problem: Problem, state: State, index: int, matrix: Array) -> tuple[float, float]:
    """Slope and bend of half the misfit by the logarithm of one frame's focal length.

    All else is free to answer: what pose, distance and shape can make up for says nothing.
    """
    here, nearer, longer = (
        problem.misfit_at(state, index, share) for share in (0.0, -_STEP, _STEP)
    )
    slope = (longer - nearer) / (4.0 * _STEP)
    bend = (longer - 2.0 * here + nearer) / (2.0 * _STEP**2)
    answer = problem.focal_pull(state, index)
    return slope, max(bend - float(answer @ solve(matrix, answer)), 0.0)
