"""The chart holds each spot of skin where a cylinder has it; unrolled skin stays in its place."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.pose import HeadPose
from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.head.template import load_template
from sitwell.head.unroll import FacePicture, skin_chart, unroll
from tests.head.skins import CENTRE, pattern, photograph

FOCAL_PX = 2600.0


def pose_at(turn, chin=0.0, tilt=0.0, distance=1500.0):
    return HeadPose(
        rotation=rotation_from_pose(turn, chin, tilt), place_mm=np.array([5.0, -9.0, -distance])
    )


def spots(head):
    chart = skin_chart()
    corners = head.vertices_mm[head.triangles[chart.triangle]].astype(np.float64)
    return np.einsum("nc,nca->na", chart.weights, corners)


def test_a_cell_lies_where_the_cylinder_round_the_mean_head_has_it():
    chart, places = skin_chart(), spots(build_head())
    across = np.arctan2(places[:, 0], places[:, 2] + 75.0) * 90.0
    # straight edges of triangles are not quite straight on a cylinder
    assert_allclose(chart.columns + 0.5 - 120.0, across, atol=0.6)
    assert_allclose(chart.rows + 0.5 - 75.0, -places[:, 1], atol=0.6)
    assert_allclose(chart.weights.sum(axis=1), 1.0)


def test_eyeballs_hair_and_ears_are_no_skin():
    template, chart = load_template(), skin_chart()
    names = {Region(r).name for r in np.unique(template.region_of_triangle[chart.triangle])}
    assert not any(name.startswith(("IRIS", "WHITE", "SCALP", "EAR", "NECK")) for name in names)
    assert {"NOSE_TIP", "CHIN", "FOREHEAD", "LID_UPPER_OWN_LEFT", "CHEEK_OWN_RIGHT"} <= names


@pytest.mark.parametrize("angles", [(0, 0, 0), (32, -8, 6), (-55, 10, -12)])
def test_the_same_skin_lies_at_the_same_place_whatever_the_pose(angles):
    head, pose = build_head(), pose_at(*angles)
    unrolled = unroll(photograph(head, pose, FOCAL_PX), head, pose, FOCAL_PX, CENTRE)
    chart = skin_chart()
    seen = unrolled.seen[chart.rows, chart.columns] > 0
    assert seen.mean() > 0.4
    wanted = np.log(pattern(spots(head)) + 0.02)
    off = np.abs(unrolled.light[chart.rows, chart.columns] - wanted)[seen]
    assert np.std(wanted) > 0.2
    assert np.median(off) < 0.015
    assert np.percentile(off, 95) < 0.1  # lids and lips fold


def test_the_far_cheek_is_not_seen():
    head, pose = build_head(), pose_at(60)
    unrolled = unroll(photograph(head, pose, FOCAL_PX), head, pose, FOCAL_PX, CENTRE)
    own_left, own_right = unrolled.seen[:, 140:200].mean(), unrolled.seen[:, 40:100].mean()
    assert own_left < 0.1 < 0.5 < own_right


def test_a_part_of_a_photograph_gives_the_same_as_the_whole():
    head, pose = build_head(), pose_at(20)
    whole = photograph(head, pose, FOCAL_PX)
    part = FacePicture(
        rgb=np.ascontiguousarray(whole.rgb[60:430, 90:400]),
        origin_px=np.array([90.0, 60.0]),
        px_per_rgb_px=1.0,
    )
    one, other = (unroll(each, head, pose, FOCAL_PX, CENTRE) for each in (whole, part))
    both = (one.seen > 0) & (other.seen > 0)
    assert both.sum() > 0.9 * (one.seen > 0).sum()
    # each is shrunk to its own whole number of pixels
    assert np.median(np.abs(one.light - other.light)[both]) < 0.01


def test_the_window_to_the_chart_undoes_the_projection():
    head, pose = build_head(), pose_at(15, 5)
    unrolled = unroll(photograph(head, pose, FOCAL_PX), head, pose, FOCAL_PX, CENTRE)
    # straight ahead one mm of chart is about one mm of skin: 2600 / 1500 pixels
    ahead = np.argmin(np.abs(unrolled.spots_px - CENTRE).sum(axis=1))
    size = np.sqrt(abs(np.linalg.det(unrolled.to_chart[ahead])))
    assert_allclose(size, 1500.0 / 2600.0, rtol=0.25)
