"""Projection, upright axes and starting poses obey their own geometry."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.basis import landmark_basis
from sitwell.head.pose import (
    HeadPose,
    first_pose,
    is_still,
    project,
    rotation_from_vector,
    upright_axes,
)
from tests.turned import angle_between_deg

angle = st.floats(-45, 45)
CENTRE = np.array([500.0, 400.0])


def pose_of(turn, chin, tilt, place=(0.0, 0.0, -2000.0)):
    return HeadPose(rotation=rotation_from_pose(turn, chin, tilt), place_mm=np.array(place))


def test_own_left_is_at_camera_right_and_up_is_up():
    spots = project(np.array([[30.0, 0, 0], [0, 30.0, 0]]), pose_of(0, 0, 0), 1000.0, CENTRE)
    assert_allclose(spots, [[515.0, 400.0], [500.0, 385.0]])


@given(angle, angle, angle)
def test_axis_and_seen_angles_agree_straight_ahead(turn, chin, tilt):
    pose = pose_of(turn, chin, tilt)
    assert_allclose(pose.seen_deg, (turn, chin, tilt), atol=1e-9)
    assert_allclose(pose.axis_deg, (turn, chin, tilt), atol=1e-9)


def test_a_face_at_camera_right_looking_along_the_axis_is_seen_from_its_own_right():
    # The lens lies toward the sitter's own right, so the picture shows the face turned away
    # from it, to its own left: turn > 0, by the angle off the axis.
    pose = pose_of(0, 0, 0, place=(500.0, 0.0, -2000.0))
    assert_allclose(pose.seen_deg[0], np.degrees(np.arctan2(500, 2000)), atol=1e-9)


@given(st.floats(-60, 60))
def test_the_upright_axes_follow_the_crown(tilt):
    pose = pose_of(0, 0, tilt)
    crown, eyes = project(np.array([[0, 100.0, 0], [0, 0, 0]]), pose, 1000.0, CENTRE)
    up = (crown - eyes) / np.linalg.norm(crown - eyes)
    assert_allclose(up @ upright_axes(tilt).T, [0.0, 1.0], atol=1e-9)
    assert_allclose(upright_axes(tilt) @ upright_axes(tilt).T, np.eye(2), atol=1e-12)


@given(angle, angle, angle)
def test_the_starting_pose_is_near(turn, chin, tilt):
    points, pose = landmark_basis().mean_mm, pose_of(turn, chin, tilt)
    start = first_pose(points, project(points, pose, 3000.0, CENTRE), 3000.0, CENTRE)
    assert angle_between_deg(start.rotation, pose.rotation) < 6.0
    assert_allclose(start.distance_mm, pose.distance_mm, rtol=0.05)


@given(st.floats(-2, 2), st.floats(-2, 2), st.floats(-2, 2))
def test_a_rotation_vector_turns_by_its_length(x, y, z):
    rotation = rotation_from_vector(np.array([x, y, z]))
    length = np.linalg.norm([x, y, z])
    if length > np.pi:
        return
    assert_allclose(rotation @ rotation.T, np.eye(3), atol=1e-12)
    assert_allclose(angle_between_deg(np.eye(3), rotation), np.degrees(length), atol=1e-6)


def test_a_small_step_is_still_and_a_larger_one_is_not():
    assert is_still(np.array([1e-4, 0, 0, 0.05, 0, 0]))
    assert not is_still(np.array([1e-3, 0, 0, 0, 0, 0]))
    assert not is_still(np.array([0, 0, 0, 0, 0, 1.0]))
