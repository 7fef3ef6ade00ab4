"""The learned landmark error is symmetric, well-formed, and refuses a damaged file."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import HeadError
from sitwell.head.basis import landmark_basis
from sitwell.head.bias import CHIN_LIMIT_DEG, TURN_LIMIT_DEG, load_bias, pose_terms


def mirrored(offset):
    """An offset (2N,) as a mirror shows it: partners swapped, x reversed."""
    mean = landmark_basis().mean_mm
    apart = np.linalg.norm(mean[:, None] * (-1.0, 1.0, 1.0) - mean[None], axis=2)
    partner = apart.argmin(axis=1)
    return (offset.reshape(-1, 2)[partner] * (-1.0, 1.0)).reshape(-1)


@given(st.floats(-45, 45), st.floats(-20, 20))
def test_a_mirrored_head_errs_in_the_mirror(turn, chin):
    bias = load_bias()
    here, there = (bias.at(t, chin) @ bias.directions for t in (turn, -turn))
    assert_allclose(mirrored(here), there, atol=0.05)


def test_the_directions_are_unit_vectors_at_right_angles():
    directions = load_bias().directions
    assert_allclose(directions @ directions.T, np.eye(len(directions)), atol=5e-3)


def test_the_covariances_are_positive_definite():
    bias = load_bias()
    assert np.linalg.eigvalsh(bias.by_frame).min() > 0
    assert np.linalg.eigvalsh(bias.by_sitter).min() > -1e-3 * np.trace(bias.by_sitter)
    assert (bias.spread_scale > 0.3).all()
    assert (bias.spread_scale < 3.0).all()


def test_the_offset_grows_as_the_head_turns():
    bias = load_bias()
    front, turned = (
        np.linalg.norm((bias.at(t, 0.0) @ bias.directions).reshape(-1, 2), axis=1).mean()
        for t in (0.0, 40.0)
    )
    assert turned > 1.5 * front


def test_far_beyond_the_learned_range_the_offset_stays_as_at_its_edge():
    assert_allclose(pose_terms(70.0, -35.0), pose_terms(TURN_LIMIT_DEG, -CHIN_LIMIT_DEG))


def test_a_damaged_file_is_refused(tmp_path):
    (tmp_path / "bias.npz").write_bytes(b"PK\x03\x04 no more")
    with pytest.raises(HeadError, match=r"The landmark data bias\.npz can't be read .*install"):
        load_bias(tmp_path / "bias.npz")


def test_a_file_with_other_fields_is_refused(tmp_path):
    np.savez(tmp_path / "bias.npz", something=np.zeros(3))
    with pytest.raises(HeadError, match=r"The landmark data bias\.npz can't be read"):
        load_bias(tmp_path / "bias.npz")
