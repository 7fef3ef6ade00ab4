"""Measured lid edges become marks where the eye can be trusted, with a spread in its pixels."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.face.lids import LidEdges
from sitwell.head.basis import USED_LANDMARKS, landmark_basis
from sitwell.head.pose import HeadPose, Sighting, project
from sitwell.head.seen_lids import lid_marks

CENTRE = np.array([600.0, 900.0])
FOCAL = find_focal(ExifFacts(focal_35_mm=85.0), 1200, 1800)
PX_PER_MM = FOCAL.px / 1500.0


def sighting(turn):
    pose = HeadPose(rotation=rotation_from_pose(turn, 0, 0), place_mm=np.array([0, 0, -1500.0]))
    landmarks = np.zeros((478, 2))
    landmarks[USED_LANDMARKS] = project(landmark_basis().mean_mm, pose, FOCAL.px, CENTRE)
    irises = np.array([[-31.5, 0.0, 12.0], [31.5, 0.0, 12.0]])
    landmarks[[468, 473]] = project(irises, pose, FOCAL.px, CENTRE)
    return Sighting(landmarks_px=landmarks, centre_px=CENTRE, focal=FOCAL)


def edges(sharpness=8.0):
    return LidEdges(
        upper_px=np.array([640.0, 880.0]), lower_px=np.array([640.0, 900.0]), sharpness=sharpness
    )


def test_a_frontal_eye_gives_both_its_lids():
    marks = lid_marks({"own_left": edges()}, sighting(0))
    assert [mark.name for mark in marks] == ["lid_upper_own_left", "lid_lower_own_left"]
    assert all(mark.x_px == pytest.approx(640.0, abs=1.0) for mark in marks)
    # an edge's offset from the mesh's point is below a millimetre
    assert_allclose([m.y_px for m in marks], [880, 900], atol=1.0 * PX_PER_MM)
    assert_allclose([m.spread_px for m in marks], 0.15 * PX_PER_MM, rtol=0.1)


def test_the_far_eye_is_trusted_less_and_then_not_at_all():
    near, far, gone = (lid_marks({"own_left": edges()}, sighting(turn)) for turn in (-40, 26, 42))
    assert far[0].spread_px > 1.3 * near[0].spread_px
    assert gone == ()
    assert len(lid_marks({"own_right": edges()}, sighting(42))) == 2


def test_a_soft_edge_is_no_edge():
    assert lid_marks({"own_left": edges(sharpness=2.0)}, sighting(0)) == ()
