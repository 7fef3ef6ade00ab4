"""Skin that lies off between two frames is found, and draws poses and shape to where it fits."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.head.basis import USED_LANDMARKS, landmark_basis
from sitwell.head.bias import load_bias
from sitwell.head.fit import fit_head
from sitwell.head.follow import MOST_APART_DEG, ROUNDS_MM, slide, tie_evidence, ties
from sitwell.head.pose import HeadPose, Sighting, project, upright_axes
from sitwell.head.prior import shape_sigma
from sitwell.head.surface import build_head
from sitwell.head.template import load_template
from sitwell.head.unroll import unroll
from tests.head.skins import CENTRE, SIZE_PX, photograph

FOCAL = find_focal(ExifFacts(), SIZE_PX, SIZE_PX, focal_35_mm=2600.0 / SIZE_PX / np.sqrt(2) * 43.27)
DISTANCE_MM = 1500.0
EXPRESSIONS = len(load_template().expression_names)


def pose_at(turn, chin=0.0, tilt=0.0):
    return HeadPose(
        rotation=rotation_from_pose(turn, chin, tilt), place_mm=np.array([0, 0, -DISTANCE_MM])
    )


def focal_px():
    return FOCAL.px_at(DISTANCE_MM)


def unrolled_at(pose, taken_at, light=1.0):
    """The picture taken at one pose, unrolled as if the head stood at another."""
    head = build_head()
    picture = photograph(head, taken_at, focal_px(), light=light)
    return unroll(picture, head, pose, focal_px(), CENTRE)


@pytest.mark.parametrize("light", [1.0, 0.5])
def test_frames_in_place_lie_on_each_other_in_any_light(light):
    poses = [pose_at(0), pose_at(25, 5)]
    frames = [unrolled_at(poses[0], poses[0]), unrolled_at(poses[1], poses[1], light)]
    (tie,) = ties(dict(enumerate(frames)), poses, ROUNDS_MM[-1])
    assert len(tie.windows) > 60
    assert np.median(np.linalg.norm(tie.drift_mm, axis=1)) < 0.12


def test_a_head_turned_a_little_farther_than_thought_drifts_to_its_side():
    true, thought = [pose_at(0), pose_at(12)], [pose_at(0), pose_at(11)]
    frames = [unrolled_at(*each) for each in zip(thought, true, strict=True)]
    (tie,) = ties(dict(enumerate(frames)), thought, ROUNDS_MM[1])
    slides = [
        slide(frame, np.zeros(len(shape_sigma())), np.zeros(EXPRESSIONS), pose, focal_px(), CENTRE)
        for frame, pose in zip(frames, thought, strict=True)
    ]
    evidence = tie_evidence(tie, *slides)
    own = slides[0].by_own.shape[2]
    turn = np.s_[-6:-3]  # the second frame's rotation is its own last but three
    matrix = evidence.matrix[-own:, -own:]
    step = np.linalg.solve(matrix[-6:, -6:], evidence.pull[-6:])
    assert_allclose(np.degrees(step[turn][1]), 1.0, atol=0.25)


def test_frames_too_far_apart_and_frames_without_a_picture_are_not_tied():
    poses = [pose_at(0), pose_at(MOST_APART_DEG + 5.0), pose_at(10)]
    frames = [unrolled_at(pose, pose) for pose in poses[:2]]
    assert ties(dict(enumerate(frames)), poses, ROUNDS_MM[-1]) == []


def test_a_patternless_skin_ties_nothing():
    poses = [pose_at(0), pose_at(15)]
    frames = [unrolled_at(pose, pose) for pose in poses]
    plain = [dataclasses.replace(frame, light=0.0 * frame.light) for frame in frames]
    assert ties(dict(enumerate(plain)), poses, ROUNDS_MM[-1]) == []


def test_the_slope_of_a_slide_is_what_a_small_step_does():
    rng, pose = np.random.default_rng(3), pose_at(18, 4, 3)
    frame = unrolled_at(pose, pose)
    shape, expression = np.zeros(len(shape_sigma())), np.full(EXPRESSIONS, 0.2)
    step = rng.normal(size=6) * np.array([1e-4] * 3 + [0.05] * 3)
    here = slide(frame, shape, expression, pose, focal_px(), CENTRE)
    there = slide(frame, shape, expression, pose.moved(step), focal_px(), CENTRE)
    moved = there.moved_mm - here.moved_mm
    assert_allclose(moved, here.by_own[:, :, -6:] @ step, atol=2e-4 + 1e-2 * np.abs(moved).max())
    pulled = rng.normal(size=EXPRESSIONS) * 1e-3
    there = slide(frame, shape, expression + pulled, pose, focal_px(), CENTRE)
    assert_allclose(
        there.moved_mm - here.moved_mm, here.by_own[:, :, :EXPRESSIONS] @ pulled, atol=2e-4
    )


def sighting(pose, scatter_px, rng):
    bias, landmarks = load_bias(), np.zeros((478, 2))
    turn, chin, tilt = pose.seen_deg
    off = (bias.at(turn, chin) @ bias.directions).reshape(-1, 2) @ upright_axes(tilt)
    plain = project(landmark_basis().mean_mm, pose, focal_px(), CENTRE)
    landmarks[USED_LANDMARKS] = plain + off * focal_px() / DISTANCE_MM
    # all landmarks slid together, as if the head were turned by another degree or two
    other = pose.moved(np.radians([scatter_px, 2.0 * scatter_px, 0.0, 0, 0, 0]))
    landmarks[USED_LANDMARKS] += project(
        landmark_basis().mean_mm, other, focal_px(), CENTRE
    ) - project(landmark_basis().mean_mm, pose, focal_px(), CENTRE)
    return Sighting(landmarks_px=landmarks, centre_px=CENTRE, focal=FOCAL)


def test_the_skin_corrects_landmarks_that_slid():
    rng = np.random.default_rng(5)
    poses = [pose_at(0), pose_at(20, 5), pose_at(-18, -6)]
    frames = [sighting(pose, slip, rng) for pose, slip in zip(poses, (0.0, 1.0, -1.0), strict=True)]
    pictures = [photograph(build_head(), pose, focal_px()) for pose in poses]

    def off(fit):
        level = fit.frames[0].pose.rotation
        turned = [frame.pose.rotation @ level.T for frame in fit.frames[1:]]
        return [
            float(np.degrees(np.arccos(np.clip((np.trace(a @ b.rotation.T) - 1) / 2, -1, 1))))
            for a, b in zip(turned, poses[1:], strict=True)
        ]

    slid, followed = off(fit_head(frames)), off(fit_head(frames, pictures=pictures))
    assert min(slid) > 1.0
    assert max(followed) < 0.6
