"""One frame on the head: outlines found, colours sampled, what is hidden not counted."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.skin_cover import cover
from sitwell.scene.skin_eyes import eye_colours
from sitwell.scene.skin_frame import Picture, _breaks, hold, ramp, see
from sitwell.scene.skin_merge import USUAL_EYE

from .sitting import painted, setups, take


@pytest.fixture(scope="module")
def turned(tmp_path_factory):
    head = build_head()
    reading = take(tmp_path_factory.mktemp("one"), head, painted(head), setups((35.0,)))
    return head, reading.frames[0]


def test_a_slope_is_no_outline_and_a_step_is():
    slope = np.tile(np.arange(40.0) * 4.0, (30, 1))
    assert not _breaks(slope).any()
    slope[:, 20:] += 12.0
    assert _breaks(slope)[:, 19:21].all()
    assert not _breaks(slope)[:, :18].any()


def test_a_picture_is_sampled_between_its_pixels():
    linear = np.zeros((4, 6, 3))
    linear[:, 3] = 1.0
    picture = Picture(linear=linear, origin_px=np.array([100.0, 50.0]), px_per_px=2.0)
    places = picture.at(np.array([[107.0, 53.0], [108.0, 53.0]]))  # its middle, and half a pixel on
    assert_allclose(picture.sample(places)[:, 0], [1.0, 0.5])


def test_what_the_nose_and_the_turn_hide_has_no_weight(turned):
    head, frame = turned
    held = hold(frame, frame.fitted, np.ones(len(head.vertices_mm)))
    ground = cover(head)
    sight, region = see(held, ground), ground.region
    mean = {part: sight.weight[region == part].mean() for part in Region if (region == part).any()}
    assert mean[Region.CHEEK_OWN_RIGHT] > 0.5
    assert mean[Region.EAR_OWN_LEFT] == 0.0
    assert mean[Region.NOSE_SIDE_OWN_LEFT] < 0.5 * mean[Region.NOSE_SIDE_OWN_RIGHT]
    assert 0.0 <= sight.weight.min() <= sight.weight.max() <= 1.0


def test_a_frame_without_its_photograph_is_left_out(turned):
    head, frame = turned
    gone = dataclasses.replace(frame, path=None)
    assert hold(gone, frame.fitted, np.ones(len(head.vertices_mm))) is None


def test_eyes_too_small_to_read_take_the_usual_colours(turned):
    head, frame = turned
    held = hold(frame, frame.fitted, np.ones(len(head.vertices_mm)))
    nowhere = dataclasses.replace(held.map, shown=np.full_like(held.map.shown, -1))
    blind = dataclasses.replace(held, map=nowhere)
    assert eye_colours([blind], USUAL_EYE)["own_left"] is USUAL_EYE


def test_a_ramp_is_straight_between_its_ends():
    assert_allclose(ramp(1.0, 3.0, np.array([0.0, 1.0, 2.0, 3.0, 9.0])), [0, 0, 0.5, 1, 1])
