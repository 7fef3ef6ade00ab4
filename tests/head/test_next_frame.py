"""The next frame asked for is one that none of those taken is near."""

import pytest

from sitwell.head.next_frame import next_frame


@pytest.mark.parametrize(
    ("turns", "wanted"),
    [((), 0.0), ((2.0,), 25.0), ((0.0, 24.0), -25.0), ((0.0, -28.0), 25.0), ((25.0, -25.0), 0.0)],
)
def test_the_gap_is_asked_for(turns, wanted):
    asked = next_frame([(turn, 0.0, 0.0) for turn in turns])
    assert (asked.turn_deg, asked.chin_deg, asked.tilt_deg) == (wanted, 0.0, 0.0)


def test_with_front_and_both_sides_nothing_is_asked():
    assert next_frame([(1, 0, 0), (22, 3, 0), (-27, -2, 1)]) is None


def test_a_side_taken_with_the_chin_far_up_is_asked_for_again():
    asked = next_frame([(0, 0, 0), (25, 30, 0), (-25, 0, 0)])
    assert asked.turn_deg == 25.0


def test_the_words_name_the_sitters_own_side():
    assert next_frame([(0, 0, 0), (-25, 0, 0)]).words == (
        "One turned to the sitter’s own left, chin level, would help most next: the nose at a mark "
        "at camera right, half as far from the lens as the sitter is."
    )
    assert "own right, chin level" in next_frame([(0, 0, 0), (25, 0, 0)]).words
    assert "at camera left" in next_frame([(0, 0, 0), (25, 0, 0)]).words
    assert next_frame([]).words == "One straight into the lens, chin level, would help most next."
