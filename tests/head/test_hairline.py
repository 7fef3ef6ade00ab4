"""A marked hairline is found again, along the middle of the scalp."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.brief.marks import Mark
from sitwell.head.hairline import (
    PLACED_SPREAD_MM,
    UNMARKED_SPREAD_MM,
    hairline_spread_mm,
    marked_hairline_mm,
    visible_walk,
)
from sitwell.head.pose import HeadPose, Sighting, project
from sitwell.head.surface import build_head

CENTRE = np.array([300.0, 400.0])
FOCAL = find_focal(ExifFacts(focal_35_mm=85.0), 600, 800)


def view(hairline_mm, turn=0.0, offset_px=0.0):
    head = build_head(hairline_mm=hairline_mm)
    pose = HeadPose(rotation=rotation_from_pose(turn, -5, 0), place_mm=np.array([0, 0, -1500.0]))
    point = np.asarray(head.point("hairline"), dtype=float)[None]
    x, y = project(point, pose, FOCAL.px, CENTRE)[0]
    mark = Mark(name="hairline", x_px=x, y_px=y + offset_px)
    return Sighting(
        landmarks_px=np.zeros((478, 2)), centre_px=CENTRE, focal=FOCAL, marks=(mark,)
    ), pose


@pytest.mark.parametrize("hairline_mm", [-15.0, 0.0, 12.0, 35.0])
@pytest.mark.parametrize("turn", [0.0, 25.0])
def test_the_mark_says_where_the_hairline_is(hairline_mm, turn):
    sighting, pose = view(hairline_mm, turn)
    assert_allclose(marked_hairline_mm(build_head(), [sighting], [pose]), hairline_mm, atol=1.5)


def test_marks_in_two_frames_are_averaged():
    views = [view(10.0), view(20.0)]
    found = marked_hairline_mm(build_head(), [s for s, _ in views], [p for _, p in views])
    assert_allclose(found, 15.0, atol=1.5)


def said(view_of, **changes):
    sighting, pose = view_of
    marks = tuple(dataclasses.replace(mark, **changes) for mark in sighting.marks)
    return dataclasses.replace(sighting, marks=marks), pose


def test_a_surer_mark_weighs_more():
    views = [said(view(10.0), spread_px=1.0), said(view(20.0), spread_px=2.0)]
    found = marked_hairline_mm(build_head(), [s for s, _ in views], [p for _, p in views])
    assert_allclose(found, 12.0, atol=1.0)


def test_what_is_found_in_the_picture_counts_only_where_nothing_is_placed():
    found, placed = said(view(30.0), speaks="up", spread_px=1.0), view(5.0)
    both = marked_hairline_mm(build_head(), [found[0], placed[0]], [found[1], placed[1]])
    assert_allclose(both, 5.0, atol=1.5)
    assert_allclose(marked_hairline_mm(build_head(), [found[0]], [found[1]]), 30.0, atol=1.5)


def test_the_hairline_is_as_sure_as_the_surest_mark_that_counts():
    px_per_mm = FOCAL.px / 1500.0
    found, surer = (said(view(9.0), speaks="up", spread_px=mm * px_per_mm) for mm in (6.0, 4.0))
    sightings, poses = zip(found, surer, strict=True)
    assert_allclose(hairline_spread_mm(sightings, poses), 4.0, rtol=1e-6)
    placed = view(9.0)
    assert hairline_spread_mm([surer[0], placed[0]], [surer[1], placed[1]]) == PLACED_SPREAD_MM
    bare = dataclasses.replace(placed[0], marks=())
    assert hairline_spread_mm([bare], [placed[1]]) == UNMARKED_SPREAD_MM


def test_without_a_mark_nothing_is_said():
    sighting, pose = view(10.0)
    plain = Sighting(landmarks_px=sighting.landmarks_px, centre_px=CENTRE, focal=FOCAL)
    assert marked_hairline_mm(build_head(), [plain], [pose]) is None


def test_a_mark_far_above_the_head_gives_the_end_of_the_scalp():
    sighting, pose = view(0.0, offset_px=-300.0)
    assert marked_hairline_mm(build_head(), [sighting], [pose]) > 40.0


def test_the_far_side_of_the_skull_is_not_taken_for_the_brow():
    # seen from the front the skull's middle line comes down again behind the forehead
    pose = HeadPose(rotation=np.eye(3), place_mm=np.array([0, 0, -1500.0]))
    steps, spots = visible_walk(build_head(), pose, FOCAL.px, CENTRE)
    assert max(steps) < 140
    assert (np.diff(spots[:, 1]) < 0).all()
