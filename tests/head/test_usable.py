"""Frames that would spoil the head are left out with a reason; if all would, none is."""

from sitwell.head.usable import BLURRED, CLOSED, UNLIKE, why_left_out

OPEN, SHUT = {"eyeBlinkLeft": 0.1, "eyeBlinkRight": 0.2}, {"eyeBlinkRight": 0.8}


def test_a_blink_is_left_out_on_either_side():
    assert why_left_out([OPEN, SHUT, {"eyeBlinkLeft": 0.6}], [1.0] * 3) == [
        None,
        CLOSED,
        CLOSED,
    ]


def test_a_frame_far_less_sharp_than_the_sharpest_is_left_out():
    assert why_left_out([OPEN] * 3, [0.3, 0.28, 0.08]) == [None, None, BLURRED]


def test_a_frame_of_much_detail_throws_no_sharp_one_out():
    assert why_left_out([OPEN] * 14, [0.3] * 13 + [0.95]) == [None] * 14


def test_a_sitter_who_is_soft_in_every_frame_is_kept():
    assert why_left_out([OPEN] * 3, [0.1, 0.09, 0.08]) == [None] * 3


def test_a_face_unlike_the_others_is_left_out():
    strains = [1.0, 1.1, 0.9, 3.0, 1.0]
    assert why_left_out([OPEN] * 5, [1.0] * 5, strains) == [
        None,
        None,
        None,
        UNLIKE,
        None,
    ]


def test_a_sitter_who_is_hard_to_fit_throughout_is_kept():
    assert why_left_out([OPEN] * 5, [1.0] * 5, [3.0] * 5) == [None] * 5


def test_where_no_frame_would_be_left_all_stay():
    assert why_left_out([SHUT, SHUT], [1.0, 1.0]) == [None, None]
