"""The preview's blur: discs as large as the measures say, never spread over what is sharp."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sitwell.head.surface import build_head
from sitwell.scene import preview
from sitwell.scene.measures import measure
from sitwell.scene.preview import CODED, Sculpture
from sitwell.scene.preview_blur import blur_radii_px, spread_blur
from sitwell.scene.setup import Setup

FOCUS_MM = 1500.0
WIDE_OPEN = Setup(turn_deg=10.0, distance_mm=1500.0, f_number=1.4)


def light_of(level):
    share = level / 255.0
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def flat(level, side=61):
    return np.full((side, side, 3), level, dtype=np.uint8)


def spread(picture, radius_px, nearness):
    radii = np.broadcast_to(np.float32(radius_px), picture.shape[:2]).astype(np.float32)
    near = np.broadcast_to(np.float32(nearness), picture.shape[:2]).astype(np.float32)
    blurred = picture.copy()
    spread_blur(blurred, radii, near, CODED)
    return blurred


def test_the_discs_are_those_of_the_measures():
    # 85 mm at f/1.4: what ``measure`` says of the ears, in pixels of a picture of 2000 per tangent
    said = measure(build_head(), WIDE_OPEN)
    sculpture = Sculpture(build_head())
    view = sculpture.view(WIDE_OPEN)
    focus_mm = min(view.depth_mm(f"iris_{side}") for side in ("own_left", "own_right"))
    image_mm = 85.0 * focus_mm / (focus_mm - 85.0)
    for side in ("own_left", "own_right"):
        near = np.array([[1.0 / view.depth_mm(f"ear_outer_{side}")]], dtype=np.float32)
        radius = float(blur_radii_px(WIDE_OPEN, focus_mm, near, 2000.0)[0, 0])
        assert_allclose(2.0 * radius * image_mm / 2000.0, said[f"blur_ear_{side}_mm"], rtol=1e-3)


@pytest.mark.parametrize("radius_px", [2.0, 4.0, 8.0])
def test_an_edge_is_ramped_over_the_disc_and_no_light_is_lost(radius_px):
    picture = flat(40)
    picture[:, 30:] = 200
    blurred = spread(picture, radius_px, 1 / 1700)
    light = light_of(blurred[30, :, 0].astype(float))
    dark, bright = light_of(40.0), light_of(200.0)
    assert_allclose(light[29] + light[30], dark + bright, rtol=0.12)
    assert_allclose(light.sum(), 30 * dark + 31 * bright, rtol=0.02)
    ramp = np.flatnonzero(np.abs(blurred[30, :, 0].astype(int) - picture[30, :, 0]) > 2)
    assert abs(ramp.min() - (30 - radius_px)) <= 1.5
    assert abs(ramp.max() - (29 + radius_px)) <= 1.5


def test_nothing_is_changed_where_all_is_alike():
    assert_array_equal(spread(flat(137), 6.0, 1 / 1700), flat(137))


def test_what_is_behind_does_not_spread_over_what_is_sharp_in_front():
    picture = flat(40)
    picture[:, 30:] = 200
    radii = np.zeros((61, 61), dtype=np.float32)
    near = np.full((61, 61), 1 / FOCUS_MM, dtype=np.float32)
    radii[:, 30:], near[:, 30:] = 6.0, 1 / 1800
    blurred = picture.copy()
    spread_blur(blurred, radii, near, CODED)
    assert_array_equal(blurred[:, :30], picture[:, :30])


def test_a_small_aperture_leaves_the_preview_sharp_and_a_wide_one_does_not(monkeypatch):
    sculpture = Sculpture(build_head())
    closed = WIDE_OPEN.with_changes(f_number=16.0)
    drawn = [sculpture.render(setup, 320, 400) for setup in (closed, WIDE_OPEN)]
    monkeypatch.setattr(preview, "spread_blur", lambda *_: None)
    sharp = [sculpture.render(setup, 320, 400) for setup in (closed, WIDE_OPEN)]
    assert_array_equal(drawn[0], sharp[0])
    assert 0.02 < (drawn[1] != sharp[1]).any(axis=2).mean() < 0.6
