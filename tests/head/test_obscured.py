"""What hides a part of the face loosens its landmarks and voids the lengths that end there."""

import numpy as np
import pytest

from sitwell.brief.in_the_way import THINGS
from sitwell.head.bias import load_bias, trust_in
from sitwell.head.obscured import hides_lids, is_unknown, precision_with, skin_under
from sitwell.head.regions import Region
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import build_head


def test_nothing_in_the_way_changes_nothing():
    bias = load_bias()
    assert precision_with(bias, frozenset()) is trust_in(bias).in_frame
    assert not any(is_unknown(name, frozenset()) for name in head_sizes(build_head()))


@pytest.mark.parametrize("thing", THINGS)
def test_each_thing_takes_precision_away_and_adds_none(thing):
    bias = load_bias()
    lost = trust_in(bias).in_frame - precision_with(bias, frozenset({thing}))
    strength = np.linalg.eigvalsh((lost + lost.T) / 2)
    assert strength.min() > -1e-3 * strength.max()
    if thing != "hair-over-ears":  # hardly any landmark lies there
        assert strength.max() > 0.05 * np.linalg.eigvalsh(trust_in(bias).in_frame).max()


@pytest.mark.parametrize(
    ("thing", "unknown"),
    [("hair-over-ears", "ear_out_own_left_mm"), ("hat", "face_height_mm"),
     ("mask", "nose_lean_mm"), ("beard", "lower_face_height_mm"), ("hand", "mouth_width_mm")],
)  # fmt: skip
def test_lengths_that_end_in_something_hidden_are_unknown(thing, unknown):
    assert unknown in head_sizes(build_head())
    assert is_unknown(unknown, frozenset({thing}))
    assert not is_unknown("interpupillary_mm", frozenset({thing}))


def test_glasses_hide_the_lids_edges():
    assert hides_lids(frozenset({"glasses", "hat"}))
    assert not hides_lids(frozenset({"beard"}))


def test_skin_under_glasses_is_not_followed_and_a_beard_is():
    hidden = skin_under(frozenset({"glasses", "beard"}))
    assert hidden[Region.BROW_OWN_LEFT]
    assert hidden[Region.NOSE_ROOT]
    assert not hidden[Region.CHIN]
    assert not hidden[Region.CHEEK_OWN_LEFT]
    assert not skin_under(frozenset()).any()
