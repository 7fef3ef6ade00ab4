"""The joint fit recovers invented heads and poses from landmarks placed as the learning says.

Landmarks are placed by the model itself (no picture, no landmarker), so these tests hold the
solver; how well it does on pictures is measured by benchmarks/accuracy_read.py.
"""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import HeadError
from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.brief.marks import Mark
from sitwell.head.basis import USED_LANDMARKS, eye_centre_basis, landmark_basis, named_point_basis
from sitwell.head.bias import load_bias
from sitwell.head.fit import fit_head
from sitwell.head.pose import HeadPose, Sighting, pose_quick, project, upright_axes
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import SIDES, build_head, head_from_values
from sitwell.head.template import load_template
from tests.turned import angle_between_deg

WIDTH, HEIGHT = 4000, 6000
CENTRE = np.array([WIDTH / 2, HEIGHT / 2])
FOCAL = find_focal(ExifFacts(focal_mm=85.0, focal_35_mm=85.0), WIDTH, HEIGHT)


def interpupillary_mm(shape):
    mean, slope = eye_centre_basis()
    own_left, own_right = mean + np.tensordot(shape, slope, 1)
    return float(np.linalg.norm(own_left - own_right))


def invented_shape(seed):
    sigma = load_template().shape_sigma
    return (np.random.default_rng(seed).normal(size=len(sigma)) * sigma).astype(float)


def sighting_of(shape, turn, chin, tilt, place=(0.0, 0.0, -1500.0), noise=None):
    """Where the landmarker should put this head's landmarks, at rest, with some of its scatter."""
    pose = HeadPose(rotation=rotation_from_pose(turn, chin, tilt), place_mm=np.array(place))
    rest = np.zeros(len(load_template().expression_names))
    basis, bias = landmark_basis(), load_bias()
    focal_px = FOCAL.px_at(pose.distance_mm)
    px_per_mm = focal_px / -pose.place_mm[2]
    axes = upright_axes(pose.seen_deg[2])
    plain = project(basis.at(shape, rest), pose, focal_px, CENTRE)
    departure = (plain - project(basis.mean_mm, pose, focal_px, CENTRE)) @ axes.T / px_per_mm
    off = bias.at(*pose.seen_deg[:2]) + bias.directions @ departure.reshape(-1) @ bias.answer
    if noise is not None:
        off = off + noise.multivariate_normal(np.zeros(len(off)), bias.by_frame)
    landmarks = np.zeros((478, 2))
    landmarks[USED_LANDMARKS] = plain + px_per_mm * (off @ bias.directions).reshape(-1, 2) @ axes
    return Sighting(landmarks_px=landmarks, centre_px=CENTRE, focal=FOCAL), pose


def fitted(shape, *views, **options):
    made = [sighting_of(shape, *view, **options) for view in views]
    fit = fit_head([s for s, _ in made], ipd_mm=interpupillary_mm(shape))
    return fit, [pose for _, pose in made]


@pytest.mark.parametrize("view", [(0, 0, 0), (30, 8, -5), (-40, -12, 9)])
def test_the_mean_head_comes_back_where_it_was(view):
    shape = np.zeros(len(load_template().shape_sigma))
    fit, (pose,) = fitted(shape, view)
    found = fit.frames[0].pose
    assert angle_between_deg(found.rotation, pose.rotation) < 0.1
    assert_allclose(found.distance_mm, pose.distance_mm, rtol=2e-3)
    assert_allclose(fit.head.shape, 0.0, atol=0.02)


def test_three_frames_of_an_invented_head_give_its_poses_and_its_shape():
    shape = invented_shape(3)
    fit, poses = fitted(shape, (0, 0, 0), (30, 5, 3), (-30, -5, -3))
    for frame, pose in zip(fit.frames, poses, strict=True):
        assert angle_between_deg(frame.pose.rotation, pose.rotation) < 1.5
    rest = np.zeros(len(load_template().expression_names))
    basis = landmark_basis()
    truth, mean = basis.at(shape, rest), basis.mean_mm
    found = basis.at(fit.head.shape.astype(float), rest)
    off = np.linalg.norm(found - truth, axis=1).mean()
    assert off < 0.65 * np.linalg.norm(mean - truth, axis=1).mean()


def test_a_face_beside_the_middle_is_seen_along_its_own_line_of_sight():
    shape = np.zeros(len(load_template().shape_sigma))
    fit, (pose,) = fitted(shape, (0, 0, 0), place=(200.0, 300.0, -1500.0))
    frame = fit.frames[0].pose
    assert_allclose(frame.seen_deg, pose.seen_deg, atol=0.1)
    # a lens 300 mm below the eye line sees the chin raised by atan(300 / 1500), 11.3 degrees
    assert_allclose(frame.seen_deg[1] - frame.axis_deg[1], 11.3, atol=0.3)


def test_the_spread_covers_what_the_scatter_does():
    rng = np.random.default_rng(11)
    scores = []
    for _ in range(8):
        shape = invented_shape(int(rng.integers(1000)))
        view = (rng.uniform(-35, 35), rng.uniform(-15, 15), rng.uniform(-10, 10))
        fit, (pose,) = fitted(shape, view, noise=rng)
        spread = fit.frames[0].spread
        sigma = np.array([spread.turn_deg, spread.chin_deg, spread.tilt_deg])
        scores.append((np.array(fit.frames[0].pose.seen_deg) - pose.seen_deg) / sigma)
    assert np.sqrt(np.mean(np.square(scores))) < 1.3
    assert np.abs(scores).max() < 4.0


def test_a_measured_distance_rules_and_narrows_the_distance():
    shape = np.zeros(len(load_template().shape_sigma))
    sighting, pose = sighting_of(shape, 10, 0, 0)
    guessed = fit_head([sighting]).frames[0]
    told = fit_head([sighting], distances_mm=[1.04 * pose.distance_mm]).frames[0]
    # the head's own likely size still has a say beside a tape that is 2 % unsure
    assert 1.015 < told.pose.distance_mm / guessed.pose.distance_mm < 1.045
    assert told.spread.distance_mm < 0.6 * guessed.spread.distance_mm


def test_a_told_interpupillary_distance_moves_the_distance_its_way():
    shape = np.zeros(len(load_template().shape_sigma))
    sighting, _ = sighting_of(shape, 0, 0, 0)
    usual, wide = fit_head([sighting]), fit_head([sighting], ipd_mm=66.15)  # 5 % more
    ratio = wide.frames[0].pose.distance_mm / usual.frames[0].pose.distance_mm
    assert 1.02 < ratio < 1.06
    assert usual.frames[0].spread.distance_mm > 0.05 * usual.frames[0].pose.distance_mm
    assert wide.frames[0].spread.distance_mm < 0.75 * usual.frames[0].spread.distance_mm


def test_a_guessed_focal_length_widens_the_distance():
    shape = np.zeros(len(load_template().shape_sigma))
    sighting, _ = sighting_of(shape, 0, 0, 0)
    guess = find_focal(ExifFacts(), WIDTH, HEIGHT)
    unsure = fit_head([dataclasses.replace(sighting, focal=guess)]).frames[0]
    assert unsure.spread.distance_mm > 0.3 * unsure.pose.distance_mm


EARS = tuple(
    f"ear_{part}_{side}" for part in ("top", "outer", "lobe") for side in ("own_left", "own_right")
)


FRONTS = tuple(f"ear_front{part}_{side}" for part in ("", "_top") for side in SIDES)


def stand_outs(sliders, marked):
    """How far the own left ear of a head stands out: of the mean head, truly, and as read from a
    frame without marks and with those ``marked``.
    """
    template = load_template()
    shape = np.zeros(len(template.shape_sigma))
    for slider, amount in sliders.items():
        shape[template.shape_names.index(slider)] = amount
    sighting, pose = sighting_of(shape, 0, 0, 0)
    rest = np.zeros(len(template.expression_names))
    spots = project(
        named_point_basis(marked).at(shape, rest), pose, FOCAL.px_at(pose.distance_mm), CENTRE
    )
    marks = tuple(
        Mark(name=name, x_px=x, y_px=y) for name, (x, y) in zip(marked, spots, strict=True)
    )
    marked_frame = dataclasses.replace(sighting, marks=marks)
    read = [fit_head([frame]).head for frame in (sighting, marked_frame)]
    true_head = head_from_values(template, shape.astype(np.float32), rest.astype(np.float32))
    heads = [build_head(), true_head, *read]
    return [head_sizes(head)["ear_out_own_left_mm"] for head in heads]


def test_ear_marks_tell_what_landmarks_cannot():
    mean, truth, plain, marked = stand_outs({"ear_wing": 0.4}, EARS)
    assert abs(plain - mean) < 0.2 * abs(truth - mean)  # landmarks say nothing of it
    assert abs(marked - truth) < 0.4 * abs(truth - mean)


def test_ears_on_narrow_roots_behind_a_broad_face_stand_out_as_far_as_they_do():
    """Their edges alone leave open whether the ear or its root stands inward; the front tells."""
    sliders = {"head_width": 0.3, "ear_apart": -0.45, "ear_wing": 0.2}
    _, truth, _, by_edges = stand_outs(sliders, EARS)
    _, _, _, by_fronts = stand_outs(sliders, (*EARS, *FRONTS))
    assert abs(by_fronts - truth) < 0.6 * abs(by_edges - truth), (truth, by_edges, by_fronts)


def test_the_quick_pose_agrees_with_the_fit_on_the_fitted_head():
    shape = invented_shape(5)
    fit, _ = fitted(shape, (0, 0, 0), (25, 4, 2), (-25, -4, -2))
    sighting, pose = sighting_of(shape, -12, 6, 3)
    quick = pose_quick(fit.head, sighting)
    assert angle_between_deg(quick.rotation, pose.rotation) < 2.0
    assert_allclose(quick.distance_mm, pose.distance_mm, rtol=0.03)


def test_no_frames_are_refused():
    with pytest.raises(HeadError, match="A head can't be fitted to no frames; give one to three"):
        fit_head([])
