"""Marks pull the unknowns toward what they show; a ridge mark speaks only across the ridge."""

import numpy as np
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.brief.marks import Mark
from sitwell.head.marks_on_frame import mark_evidence
from sitwell.head.pose import HeadPose, Sighting, project
from sitwell.head.surface import build_head
from sitwell.head.template import load_template

CENTRE = np.array([300.0, 400.0])
FOCAL = find_focal(ExifFacts(focal_35_mm=85.0), 600, 800)
POSE = HeadPose(rotation=rotation_from_pose(0, 0, 0), place_mm=np.array([0, 0, -1500.0]))
SHAPE = np.zeros(len(load_template().shape_sigma))
STILL = np.zeros(len(load_template().expression_names))


def spot(name, aside_mm=0.0, above_mm=0.0):
    point = np.asarray(build_head().point(name), dtype=float)[None]
    x, y = project(point, POSE, FOCAL.px, CENTRE)[0]
    px_per_mm = FOCAL.px / 1500.0
    return x + aside_mm * px_per_mm, y - above_mm * px_per_mm


def evidence(*marks):
    sighting = Sighting(landmarks_px=np.zeros((478, 2)), centre_px=CENTRE, focal=FOCAL, marks=marks)
    return mark_evidence(sighting, POSE, FOCAL.px, SHAPE, STILL, 5)


def mark(name, place, spread_px=None):
    return Mark(name=name, x_px=place[0], y_px=place[1], spread_px=spread_px)


def test_a_mark_where_the_point_is_pulls_nowhere():
    there = evidence(mark("ear_top_own_left", spot("ear_top_own_left")))
    assert_allclose(there.pull, 0.0, atol=1e-2)
    assert there.misfit < 1e-3


def test_a_mark_to_camera_right_moves_the_head_there():
    pull = evidence(mark("chin", spot("chin", aside_mm=5.0))).pull
    place = pull[-3:]
    assert place[0] > 0
    assert abs(place[1]) < 0.05 * place[0]


def test_a_ridge_mark_speaks_across_the_ridge_only():
    along = evidence(mark("nose_ridge", spot("nose_ridge_3", above_mm=2.0)))
    across = evidence(mark("nose_ridge", spot("nose_ridge_3", aside_mm=4.0)))
    assert along.misfit < 0.05 * across.misfit
    lean = load_template().shape_names.index("nose_lean")
    assert across.pull[lean] > 0  # camera right is the sitter's own left


def test_a_point_seen_in_the_picture_counts_by_its_own_spread():
    place = spot("eye_outer_own_left", aside_mm=3.0)
    px_per_mm = FOCAL.px / 1500.0
    sure, unsure = (
        evidence(mark("eye_outer_own_left", place, spread_px=mm * px_per_mm)) for mm in (0.5, 2.0)
    )
    assert sure.misfit > 8.0 * unsure.misfit


def test_a_careful_mark_weighs_more():
    place = spot("chin", aside_mm=5.0)
    assert evidence(mark("chin", place, 0.5)).misfit > evidence(mark("chin", place, 20.0)).misfit


def test_a_hairline_mark_is_left_to_the_hairline():
    nothing = evidence(mark("hairline", (300.0, 100.0)))
    assert not nothing.matrix.any()
    assert not nothing.pull.any()


def test_a_lid_mark_speaks_up_and_down_only():
    place = "lid_upper_own_left"
    assert evidence(mark(place, spot(place, aside_mm=4.0))).misfit < 0.01
    assert evidence(mark(place, spot(place, above_mm=1.0))).misfit > 1.0


def test_a_mark_on_an_ears_outer_edge_speaks_across_only():
    place = "ear_outer_own_left"
    assert evidence(mark(place, spot(place, above_mm=4.0))).misfit < 0.01
    assert evidence(mark(place, spot(place, aside_mm=4.0))).misfit > 1.0


def test_lids_irises_and_the_nose_are_marked_more_closely_than_ears():
    misfits = [
        evidence(mark(name, spot(name, above_mm=3.0))).misfit
        for name in ("ear_top_own_left", "nose_tip", "iris_own_left", "lid_lower_own_left")
    ]
    assert misfits == sorted(misfits)


def test_an_edge_speaks_in_its_own_direction_only():
    name = "ear_top_own_left"
    aside, above = spot(name, aside_mm=3.0), spot(name, above_mm=3.0)

    def pulled(place, speaks):
        placed = Mark(name=name, x_px=place[0], y_px=place[1], speaks=speaks)
        return float(np.abs(evidence(placed).pull).max())

    assert pulled(aside, "across") > 100 * pulled(aside, "up")
    assert pulled(above, "up") > 100 * pulled(above, "across")
