"""A lens that the file leaves open is found from perspective and habit, and stays unsure."""

import dataclasses

import numpy as np
import pytest

from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.head.basis import USED_LANDMARKS, landmark_basis
from sitwell.head.bias import load_bias
from sitwell.head.fit import fit_head
from sitwell.head.pose import HeadPose, Sighting, project, upright_axes

DISTANCES_MM = (600.0, 1300.0, 2600.0)
CENTRE = np.array([300.0, 400.0])


def mean_head(distance_mm, focal):
    """The mean head as the landmarker sees it from so far, shown as large by a lens to match."""
    pose = HeadPose(rotation=rotation_from_pose(8.0, 2, 0), place_mm=np.array([0, 0, -distance_mm]))
    focal_px = 1.7 * distance_mm
    bias, landmarks = load_bias(), np.zeros((478, 2))
    off = (bias.at(8.0, 2.0) @ bias.directions).reshape(-1, 2) @ upright_axes(0.0)
    plain = project(landmark_basis().mean_mm, pose, focal_px, CENTRE)
    landmarks[USED_LANDMARKS] = plain + off * focal_px / distance_mm
    return Sighting(landmarks_px=landmarks, centre_px=CENTRE, focal=focal)


def fitted(distance_mm, focal):
    return fit_head([mean_head(distance_mm, focal)]).frames[0]


def test_perspective_tells_near_from_far_where_no_lens_is_told():
    # every one is drawn so large that habit alone says the same for all; it draws far ones near
    frames = [fitted(true_mm, find_focal(ExifFacts(), 600, 800)) for true_mm in DISTANCES_MM]
    found = [frame.pose.distance_mm for frame in frames]
    assert found == sorted(found)
    assert found[-1] > 1.05 * found[0]
    for frame, true_mm in zip(frames, DISTANCES_MM, strict=True):
        assert abs(np.log(frame.pose.distance_mm / true_mm)) < 2.6 * frame.focal.spread
        assert frame.focal.px == pytest.approx(1.7 * frame.pose.distance_mm, rel=0.05)
        assert 0.15 < frame.focal.spread < 0.5


def test_a_told_lens_stays_as_it_is():
    focal = dataclasses.replace(find_focal(ExifFacts(focal_35_mm=85.0), 600, 800), px=1.7 * 900.0)
    frame = fitted(900.0, focal)
    assert frame.focal == focal
    assert frame.pose.distance_mm == pytest.approx(900.0, rel=0.02)
