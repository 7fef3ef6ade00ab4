"""A face seen in a mirror is the same face once it is turned back."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sitwell.base.errors import HeadError
from sitwell.face import mirror
from sitwell.face.mirror import other_side, partners
from sitwell.head.basis import landmark_basis


def test_each_landmark_is_its_partners_partner_and_lies_in_its_mirror_place():
    order = partners()
    assert_array_equal(order[order], np.arange(478))
    mean_mm = landmark_basis().mean_mm
    assert_allclose(mean_mm[order[:468]] * (-1.0, 1.0, 1.0), mean_mm, atol=0.1)
    # from memory: outer eye corners 33 and 263, nose tip 1, iris centres 468 and 473
    assert [order[33], order[1], order[468]] == [263, 1, 473]


def test_an_expression_changes_sides():
    assert other_side("eyeBlinkLeft") == "eyeBlinkRight"
    assert other_side("mouthSmileRight") == "mouthSmileLeft"
    assert other_side("jawOpen") == "jawOpen"


def test_a_table_that_can_not_be_read_says_so(tmp_path, monkeypatch):
    (tmp_path / "mirrored.txt").write_text("1 2 no", encoding="ascii")
    monkeypatch.setattr(mirror, "DATA", tmp_path / "mirrored.txt")
    partners.cache_clear()
    try:
        with pytest.raises(HeadError, match=r"The landmark data mirrored\.txt can't be read"):
            partners()
    finally:
        partners.cache_clear()
