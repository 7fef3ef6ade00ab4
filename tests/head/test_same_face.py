"""Frames of two people are asked about; frames of one are not."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import multivariate_normal

from sitwell.head.problem import Known
from sitwell.head.same_face import log_odds, unlike_frames

SIZE = 12


def frame_of(shape, rng, spread=0.4):
    """A frame that shows a shape with normal errors, and what a fit of it alone would know."""
    mixed = rng.normal(size=(SIZE, SIZE))
    error = spread**2 * (np.eye(SIZE) + 0.1 * mixed @ mixed.T)
    seen = shape + rng.multivariate_normal(np.zeros(SIZE), error)
    told = np.linalg.inv(error)
    tightness = told + np.eye(SIZE)  # beside the prior of unit sigmas
    return Known(values=np.linalg.solve(tightness, told @ seen), tightness=tightness), seen, error


@pytest.mark.parametrize("same", [True, False])
def test_the_odds_are_those_of_the_normal_distribution(same):
    """Against scipy's own density of what three frames show, of one head and of two."""
    rng = np.random.default_rng(3)
    first, other = rng.normal(size=(2, SIZE))
    made = [frame_of(shape, rng) for shape in (other if not same else first, first, first)]
    known, seen, errors = zip(*made, strict=True)

    def density(which, linked):
        size = len(which) * SIZE
        spread = np.kron(linked, np.eye(SIZE))
        for place, index in enumerate(which):
            own = slice(place * SIZE, (place + 1) * SIZE)
            spread[own, own] += errors[index]
        return multivariate_normal(np.zeros(size), spread).logpdf(np.r_[*(seen[i] for i in which)])

    expected = density((0, 1, 2), np.ones((3, 3)))
    expected -= density((0,), np.ones((1, 1))) + density((1, 2), np.ones((2, 2)))
    assert_allclose(log_odds(known[0], known[1:]), expected)
    assert (expected > 0) == same


def test_of_two_unlike_frames_both_are_named_and_of_three_the_one():
    rng = np.random.default_rng(5)
    first, other = rng.normal(size=(2, SIZE))
    one, two, three = (frame_of(first, rng)[0] for _ in range(3))
    another = frame_of(other, rng)[0]
    assert unlike_frames([one]) == ()
    assert unlike_frames([one, two]) == unlike_frames([one, two, three]) == ()
    assert unlike_frames([one, another]) == (0, 1)
    assert unlike_frames([one, another, three]) == (1,)
    assert unlike_frames([one, two, three, another]) == (3,)
