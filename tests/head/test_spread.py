"""A frame's spread grows with what it comes from, and beyond the turns that were learned."""

import numpy as np
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.pose import HeadPose
from sitwell.head.spread import REAL_FACES, far_turned, frame_spread


def spread_at(turn, focal_share=0.0, size_share=0.0):
    pose = HeadPose(rotation=rotation_from_pose(turn, 0, 0), place_mm=np.array([0, 0, -2000.0]))
    covariance = np.diag([np.radians(1.0) ** 2] * 3 + [0.0, 0.0, 10.0**2])
    slope = np.array([0.0, 0.0, 0.0, 0.0, 0.0, -2000.0])
    return frame_spread(pose, covariance, slope, focal_share, size_share, np.ones(3))


def test_a_degree_about_each_axis_is_a_degree_of_spread():
    spread = spread_at(0)
    angles = (spread.turn_deg, spread.chin_deg, spread.tilt_deg)
    assert_allclose(angles, REAL_FACES, rtol=1e-3)
    assert_allclose(spread.distance_mm, 10.0, rtol=1e-3)


def test_an_unsure_lens_and_an_unsure_size_widen_the_distance():
    # 3 % of 2000 mm is 60 mm; independent parts add by Pythagoras
    assert_allclose(spread_at(0, focal_share=0.03).distance_mm, np.hypot(10, 60), rtol=1e-3)
    assert_allclose(spread_at(0, size_share=0.03).distance_mm, np.hypot(10, 60), rtol=1e-3)


def test_landmarks_scatter_wider_beyond_the_turns_that_were_learned():
    places = [
        HeadPose(rotation=rotation_from_pose(turn, 0, 0), place_mm=np.array([0, 0, -2000.0]))
        for turn in (0, -44, 55, -65)
    ]
    assert_allclose([far_turned(pose) for pose in places], [1.0, 1.0, 2.0, 3.0])


def test_a_spread_is_widened_in_its_angles_alone():
    spread = spread_at(0)
    wide = spread.widened(1.5)
    assert_allclose(
        [wide.turn_deg, wide.chin_deg, wide.tilt_deg],
        [1.5 * spread.turn_deg, 1.5 * spread.chin_deg, 1.5 * spread.tilt_deg],
    )
    assert wide.distance_mm == spread.distance_mm


def test_a_turned_head_is_less_sure():
    square, turned = spread_at(0), spread_at(55)
    assert_allclose(turned.tilt_deg / square.tilt_deg, 2.0, rtol=0.2)
    assert turned.distance_mm == square.distance_mm
