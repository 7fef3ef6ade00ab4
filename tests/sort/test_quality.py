"""A few labelled bursts: a small form of benchmarks/quality_sort.py, which has many more."""

import pytest

from benchmarks.quality_sort import score_sitting

from .sitting import need_model


@pytest.mark.parametrize("seed", [3, 5], ids=["one-with-a-plan", "a-couple"])
def test_the_right_frame_of_each_burst_is_first_and_no_closed_eyes(tmp_path, seed):
    need_model()
    score = score_sitting(tmp_path, seed, bursts=3)
    assert score.bursts + score.split == 3
    assert score.misses == []
    assert score.right == score.bursts
    assert score.each_named == score.split
    assert score.closed_forward == 0
