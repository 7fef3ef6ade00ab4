"""The squarest pose comes first, then each time the one farthest from those taken."""

import numpy as np

from sitwell.head.differing_frames import most_unlike

POSES = np.array([(30.0, 0.0), (2.0, 1.0), (-20.0, 0.0), (28.0, 0.0), (0.0, 15.0)])


def test_the_squarest_comes_first_then_what_is_farthest():
    assert most_unlike(POSES, 3) == [1, 0, 2]


def test_nothing_is_taken_twice_though_all_are_alike():
    assert sorted(most_unlike(np.zeros((4, 2)), 4)) == [0, 1, 2, 3]


def test_poses_nearer_than_asked_are_left_and_others_stand_in():
    assert most_unlike(POSES, 5, apart_deg=8.0) == [1, 0, 2, 4]
    assert most_unlike(POSES, 2, apart_deg=8.0, instead=lambda n: 3 if n == 0 else n) == [1, 3]
