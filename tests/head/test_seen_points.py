"""Points become marks where they are sure, in the directions they are sure in, and not if wild."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.pictures.landmarker_views import focal_of
from builders.pictures.ray_traced import pose_at
from sitwell.face.features import MM_PER_PX as CROP_MM_PER_PX
from sitwell.face.features import crop_on
from sitwell.face.points import NAMES, PointsSeen
from sitwell.head.basis import landmarks_on
from sitwell.head.pose import Sighting, project
from sitwell.head.seen_points import find_points, told_points
from sitwell.head.surface import build_head

SIZE, AWAY_MM = 600, 1500.0
FOCAL = focal_of(2200.0, SIZE)
CENTRE = np.full(2, SIZE / 2)
MM_PER_PX = AWAY_MM / FOCAL.px


@pytest.fixture(scope="module")
def view():
    return view_at(10.0)


def view_at(turn_deg):
    head, pose = build_head(), pose_at(turn_deg, 0.0, 0.0, AWAY_MM)
    landmarks = project(landmarks_on(head), pose, FOCAL.px, CENTRE)
    sighting = Sighting(
        landmarks_px=np.vstack([landmarks, np.zeros((10, 2))]), centre_px=CENTRE, focal=FOCAL
    )
    # what the mesh has no point for lies anywhere
    places = [head.point(name if name in head.point_anchors else "chin") for name in NAMES]
    spots = project(np.array(places), pose, FOCAL.px, CENTRE)
    return sighting, spots


def seen_at(view, across_mm, up_mm, moved=None):
    """Points where they are, all with the same spread in the picture's own directions."""
    sighting, spots = view
    crop = crop_on(sighting.landmarks_px)
    spots = spots.copy()
    for name, step_mm in (moved or {}).items():
        spots[NAMES.index(name)] += np.array(step_mm) / MM_PER_PX
    to_crop = np.linalg.inv(crop.axes_px).T / MM_PER_PX
    covariance = to_crop @ np.diag([across_mm**2, up_mm**2]) @ to_crop.T
    return PointsSeen(
        crop=crop,
        places=crop.from_picture(spots),
        covariance=np.broadcast_to(covariance, (len(NAMES), 2, 2)),
    )


def said(marks):
    return {(mark.name, mark.speaks) for mark in marks}


def test_sure_points_become_marks_where_they_are(view):
    marks = find_points(seen_at(view, 0.9, 0.9), view[0])
    tip = next(mark for mark in marks if mark.name == "nose_tip" and mark.speaks == "across")
    assert_allclose([tip.x_px, tip.y_px], view[1][NAMES.index("nose_tip")], atol=1e-6)
    assert_allclose(tip.spread_px * MM_PER_PX, 0.9, atol=0.05)
    assert ("nose_tip", "up") in said(marks)
    assert ("hairline", "up") in said(marks)


def test_a_ridge_speaks_across_alone(view):
    marks = find_points(seen_at(view, 0.9, 0.9), view[0])
    ridge = [mark for mark in marks if mark.name == "nose_ridge"]
    assert len(ridge) == 3
    assert {mark.speaks for mark in ridge} == {"across"}


def test_a_point_speaks_only_in_the_direction_it_is_sure_in(view):
    marks = find_points(seen_at(view, 0.9, 4.0), view[0])
    assert {speaks for name, speaks in said(marks) if name != "hairline"} == {"across"}
    assert ("hairline", "up") in said(marks)
    assert find_points(seen_at(view, 6.0, 6.0), view[0]) == ()


def test_no_point_is_taken_for_surer_than_half_a_millimetre(view):
    marks = find_points(seen_at(view, 0.1, 0.1), view[0])
    least = min(mark.spread_px for mark in marks) * MM_PER_PX
    assert_allclose(least, 0.5, atol=0.03)


def test_a_point_far_from_where_the_landmarks_put_it_says_nothing(view):
    marks = find_points(seen_at(view, 0.9, 0.9, {"nose_tip": (20.0, 0.0)}), view[0])
    assert "nose_tip" not in {mark.name for mark in marks}
    assert ("nose_base", "up") in said(marks)


def test_a_hairline_is_never_surer_than_the_line_on_the_mesh(view):
    marks = find_points(seen_at(view, 0.1, 0.1), view[0])
    line = next(mark for mark in marks if mark.name == "hairline")
    assert 2.5 < line.spread_px * MM_PER_PX < 2.7


@pytest.mark.parametrize(
    ("turn_deg", "far", "near"), [(30, "left", "right"), (-30, "right", "left")]
)
def test_the_far_inner_corner_is_less_sure_behind_the_bridge(turn_deg, far, near):
    turned = view_at(turn_deg)
    marks = find_points(seen_at(turned, 0.9, 0.9), turned[0])
    spread = {mark.name: mark.spread_px * MM_PER_PX for mark in marks if mark.speaks == "across"}
    assert_allclose(spread[f"eye_inner_own_{near}"], 0.9, rtol=0.06)
    assert_allclose(spread[f"eye_inner_own_{far}"], np.hypot(0.9, 1.5), rtol=0.06)


def test_a_larger_picture_gives_the_same_marks_at_its_size(view):
    sighting, _ = view
    seen = seen_at(view, 0.9, 0.9)
    larger = dataclasses.replace(
        sighting,
        landmarks_px=sighting.landmarks_px * 2.0,
        centre_px=CENTRE * 2.0,
        focal=focal_of(2.0 * FOCAL.px, 2 * SIZE),
    )
    marks = find_points(seen, sighting)
    twice = find_points(dataclasses.replace(seen, crop=seen.crop.scaled(2.0)), larger)
    for small, large in zip(marks, twice, strict=True):
        assert_allclose(
            [large.x_px, large.y_px, large.spread_px],
            2.0 * np.array([small.x_px, small.y_px, small.spread_px]),
            rtol=1e-4,
        )


def test_points_are_told_in_the_pictures_pixels_while_they_are_known(view):
    seen = seen_at(view, 1.0, 1.0)
    told = {point.name: point for point in told_points(seen)}
    assert set(told) == set(NAMES)
    tip = told["nose_tip"]
    assert_allclose([tip.x_px, tip.y_px], view[1][NAMES.index("nose_tip")], atol=1e-6)
    assert_allclose(tip.spread_px * MM_PER_PX, 1.0, rtol=0.05)
    unsure = dataclasses.replace(
        seen, covariance=np.tile(np.eye(2) * (6.0 / CROP_MM_PER_PX) ** 2, (len(NAMES), 1, 1))
    )
    assert told_points(unsure) == ()
