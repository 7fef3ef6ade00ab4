"""The head at rest holds its lids as the sitter does in the median of their frames."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.head.fit import FittedFrame
from sitwell.head.pose import HeadPose
from sitwell.head.sizes import head_sizes
from sitwell.head.spread import FrameSpread
from sitwell.head.surface import build_head
from sitwell.head.usual_lids import told_apart, with_usual_lids

POSE = HeadPose(rotation=np.eye(3), place_mm=np.array([0.0, 0.0, -1500.0]))
FOCAL = find_focal(ExifFacts(focal_35_mm=85.0), 600, 400)
SPREAD = FrameSpread(turn_deg=1.0, chin_deg=1.0, tilt_deg=1.0, distance_mm=50.0)


def frame(shape=None, expression=None):
    head = build_head(shape, expression)
    return FittedFrame(
        pose=POSE, focal=FOCAL, spread=SPREAD, shape=head.shape.astype(float),
        expression=head.expression.astype(float),
    )  # fmt: skip


def openings(head):
    sizes = head_sizes(head)
    return np.array([sizes["eye_opening_own_left_mm"], sizes["eye_opening_own_right_mm"]])


@pytest.mark.parametrize(
    "expression", [{"eye_squint_own_left": 0.6}, {"eye_blink_own_right": 0.25}, {}]
)
def test_an_eye_that_is_narrower_in_every_frame_is_narrower_on_the_head(expression):
    head, _ = with_usual_lids(build_head(), [frame(expression=expression)] * 3)
    seen, given = openings(build_head(expression=expression)), openings(head)
    assert_allclose(np.sqrt(given.prod()), np.sqrt(seen.prod()), atol=0.1)
    assert_allclose(
        np.log(given[0] / given[1]), told_apart(np.log(seen[0] / seen[1]), 3)[0], atol=0.02
    )
    assert not head.expression.any()


def test_one_odd_frame_of_three_does_not_count():
    frames = [frame(), frame(), frame(expression={"eye_blink_own_left": 0.8})]
    assert_allclose(
        openings(with_usual_lids(build_head(), frames)[0]), openings(build_head()), atol=0.1
    )


def test_the_hairline_stays_where_it_was_placed():
    head, _ = with_usual_lids(build_head(hairline_mm=8.0), [frame({"eye_opening": 0.4})])
    assert head.hairline_mm == 8.0
    assert (openings(head) > openings(build_head()) + 0.5).all()


def test_a_small_difference_is_noise_a_large_one_is_not_and_frames_make_it_surer():
    small, large = (told_apart(seen, 2)[0] for seen in (0.04, 0.35))
    assert 0.0 < small < 0.025
    assert 0.25 < large < 0.35
    assert told_apart(-0.04, 2)[0] == pytest.approx(-small)
    assert told_apart(0.2, 6)[0] > told_apart(0.2, 1)[0]
    assert told_apart(0.0, 6)[1] < told_apart(0.0, 1)[1]
