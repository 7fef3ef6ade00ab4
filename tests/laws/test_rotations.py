"""Laws of the pose angles: round trips, mirror symmetry and the signs a photographer expects."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.rotations import (
    angles_from_direction,
    camera_axes,
    direction_from_angles,
    pose_from_rotation,
    rotation_from_pose,
    seen_pose,
)
from tests.turned import angle_between_deg

turns = st.floats(-95, 95)
chins = st.floats(-60, 60)
tilts = st.floats(-60, 60)
NOSE, CROWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])


@given(turns, chins, tilts)
def test_pose_survives_the_round_trip(turn_deg, chin_deg, tilt_deg):
    pose = pose_from_rotation(rotation_from_pose(turn_deg, chin_deg, tilt_deg))
    assert_allclose(pose, (turn_deg, chin_deg, tilt_deg), atol=1e-9)


@given(turns, chins, tilts)
def test_a_pose_is_a_rotation(turn_deg, chin_deg, tilt_deg):
    rotation = rotation_from_pose(turn_deg, chin_deg, tilt_deg)
    assert_allclose(rotation @ rotation.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(rotation) > 0


@given(turns, chins, tilts)
def test_mirrored_sitter_has_mirrored_turn_and_tilt(turn_deg, chin_deg, tilt_deg):
    mirror = np.diag([-1.0, 1.0, 1.0])
    mirrored = mirror @ rotation_from_pose(turn_deg, chin_deg, tilt_deg) @ mirror
    assert_allclose(pose_from_rotation(mirrored), (-turn_deg, chin_deg, -tilt_deg), atol=1e-9)


@given(turns, chins, tilts, turns)
def test_angle_between_is_the_turn_added(turn_deg, chin_deg, tilt_deg, more_deg):
    first = rotation_from_pose(turn_deg, chin_deg, tilt_deg)
    second = rotation_from_pose(more_deg, 0, 0) @ first
    assert_allclose(angle_between_deg(first, second), abs(more_deg), atol=1e-6)


def test_signs_are_those_of_the_trade():
    assert (rotation_from_pose(20, 0, 0) @ NOSE)[0] > 0.3  # own left is camera right
    assert (rotation_from_pose(0, 10, 0) @ NOSE)[1] > 0.1  # chin up
    assert (rotation_from_pose(0, 0, 10) @ CROWN)[0] > 0.1  # crown to own left


def test_chin_at_the_pole_still_rebuilds_the_rotation():
    rotation = rotation_from_pose(30, 90, 20)
    turn_deg, chin_deg, tilt_deg = pose_from_rotation(rotation)
    assert (chin_deg, tilt_deg) == (90.0, 0.0)
    assert angle_between_deg(rotation, rotation_from_pose(turn_deg, chin_deg, tilt_deg)) < 1e-6


@given(st.floats(-179, 179), st.floats(-89, 89))
def test_direction_survives_the_round_trip(azimuth_deg, elevation_deg):
    angles = angles_from_direction(3.0 * direction_from_angles(azimuth_deg, elevation_deg))
    assert_allclose(angles, (azimuth_deg, elevation_deg), atol=1e-9)


@given(turns, chins, tilts)
def test_a_lens_straight_ahead_sees_the_pose_itself(turn_deg, chin_deg, tilt_deg):
    rotation = rotation_from_pose(turn_deg, chin_deg, tilt_deg)
    assert_allclose(
        seen_pose(rotation, [0, 0, 1500], [0, 0, 0]), (turn_deg, chin_deg, tilt_deg), atol=1e-9
    )


def test_a_lower_lens_sees_a_raised_chin_and_a_lens_to_camera_right_a_turn_away():
    level = rotation_from_pose(0, 0, 0)
    _, chin_deg, _ = seen_pose(level, [0, -300, 1500], [0, 0, 0])
    assert_allclose(chin_deg, np.degrees(np.arctan2(300, 1500)))
    turn_deg, _, _ = seen_pose(level, [300, 0, 1500], [0, 0, 0])
    assert_allclose(turn_deg, -np.degrees(np.arctan2(300, 1500)))


@given(st.floats(-900, 900), st.floats(-900, 900), st.floats(500, 5000))
def test_camera_axes_are_right_handed_level_and_look_at_the_aim(x, y, z):
    axes = camera_axes([x, y, z], [0, -40, 0])
    assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) > 0
    assert axes[0, 1] == 0.0
    assert_allclose(axes @ [x, y + 40, z], [0, 0, np.hypot(np.hypot(x, y + 40), z)], atol=1e-9)
