"""Heads that the frames leave possible, and what no frame shows."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.hairline import UNMARKED_SPREAD_MM
from sitwell.head.sizes import RESTS_ON
from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import possible_heads, unseen_features


def reading(*, spread=0.2, hairline_spread_mm=2.0, marked=(), obscured=()):
    """A fitted reading, all sliders equally unsure."""
    head = build_head({"nose_lean": 0.3})
    fit = SimpleNamespace(
        head=head,
        shape_covariance=spread**2 * np.eye(len(head.shape)),
        hairline_spread_mm=hairline_spread_mm,
    )
    frame = SimpleNamespace(neutral=np.eye(3), fitted=object(), obscured=frozenset(obscured))
    return SimpleNamespace(fit=fit, frames=(frame,), marked=frozenset(marked))


ALL_MARKS = {mark for marks in RESTS_ON.values() for mark in marks}


def test_possible_heads_lie_about_the_fitted_one_as_far_as_it_is_unsure():
    found = reading()
    heads = possible_heads(found, 10)
    shapes = np.array([head.shape for head in heads])
    assert_allclose(shapes.mean(axis=0), found.fit.head.shape, atol=1e-6)
    assert_allclose(shapes.std(), 1.2 * 0.2, rtol=0.1)
    assert np.array_equal(possible_heads(found, 10)[3].shape, heads[3].shape)
    assert len(possible_heads(found, 3)) == 3


def test_without_a_fit_there_are_no_other_heads():
    assert possible_heads(SimpleNamespace(fit=None, frames=(), marked=frozenset()), 10) == ()


def test_the_shadows_of_a_head_hardly_unlike_may_be_taken_over():
    fitted, setup = Evaluator(build_head({})), Setup(turn_deg=12.0)
    near = build_head({"nose_length": 0.1})
    own, taken = Evaluator(near).evaluate(setup), Evaluator(near, like=fitted).evaluate(setup)
    assert_allclose(taken, own, atol=0.05)


@pytest.mark.parametrize(
    ("found", "unseen"),
    [
        (reading(marked=ALL_MARKS), set()),
        (reading(marked=ALL_MARKS, hairline_spread_mm=UNMARKED_SPREAD_MM),
         {"forehead", "thinning-hair"}),
        (reading(), {"ears", "eye-balance", "eye-size"}),
        (reading(marked=ALL_MARKS, obscured={"hat"}), {"ears"}),
    ],
)  # fmt: skip
def test_what_no_frame_shows_is_named(found, unseen):
    assert unseen_features(found) == unseen
