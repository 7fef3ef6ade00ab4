"""Several heads in one picture: where each lies, and who covers whom."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.several_heads import Standing, draw_together
from sitwell.search.group import GroupSetup, Place
from sitwell.search.moves import POSE_MOVES

from .sitting import exposed, painted

STILL = dict.fromkeys(POSE_MOVES, 0.0)
HEIGHT_PX = 120


@pytest.fixture(scope="module")
def sculpture():
    return Sculpture(build_head())


def drawn(sculpture, *places, **shared):
    return drawn_of([sculpture] * len(places), *places, **shared)


def drawn_of(sculptures, *places, **shared):
    setup = Setup(distance_mm=2800.0, key_azimuth_deg=0.0, **shared)
    group = GroupSetup(shared=setup, places=places, poses=(STILL,) * len(places), lying=True)
    window = tuple(length / setup.distance_mm for length in group.picture_mm())
    standing = [
        Standing(sculpture=sculpture, setup=group.own(i), bearing_deg=group.bearing_deg(i))
        for i, sculpture in enumerate(sculptures)
    ]
    return group, draw_together(standing, setup.lens_mm(), window, HEIGHT_PX)


def brightness(picture):
    return picture.astype(float).mean(axis=2)


def place(x_mm, y_mm=0.0, z_mm=0.0):
    return Place(x_mm=x_mm, y_mm=y_mm, z_mm=z_mm)


def test_two_alike_beside_the_middle_are_each_other_s_mirror(sculpture):
    _, picture = drawn(sculpture, place(-200.0), place(200.0))
    light = brightness(picture)
    # the invented head is nearly even; its mirror differs by hardly a level on average
    assert np.abs(light - light[:, ::-1]).mean() < 3.0
    assert light.std() > 10.0


def test_a_head_lies_where_the_camera_has_it(sculpture):
    group, picture = drawn(sculpture, place(-200.0), place(200.0))
    left, top, wide, high = group.picture_mm()
    column = int((-200.0 - left) / wide * picture.shape[1])
    row = int(top / high * picture.shape[0])
    skin = picture[row + 8 : row + 14, column - 3 : column + 3].astype(float).mean(axis=(0, 1))
    ground = picture[2, picture.shape[1] // 2].astype(float)
    assert skin[0] > skin[2] + 5  # skin is warm, the background is not
    assert abs(ground[0] - ground[2]) < 8


def test_the_nearer_covers_the_farther_whoever_comes_first(sculpture):
    near, far = place(-60.0, 0.0, 250.0), place(60.0, 0.0, -250.0)
    _, one = drawn(sculpture, near, far)
    _, other = drawn(sculpture, far, near)
    assert np.array_equal(one, other)


def test_the_lower_stands_lower(sculpture):
    group, picture = drawn(sculpture, place(-200.0, 60.0), place(200.0, -60.0))
    half = picture.shape[1] // 2
    ground = picture[0, 0].astype(int)
    differs = (np.abs(picture.astype(int) - ground) > 6).any(axis=2)
    first = [
        int(np.argmax(differs[:, cut].any(axis=1))) for cut in (slice(half), slice(half, None))
    ]
    px_per_mm = picture.shape[0] / group.picture_mm()[3]
    assert first[1] - first[0] == pytest.approx(120.0 * px_per_mm, abs=3)


@pytest.fixture(scope="module")
def deep_and_light():
    head = build_head()
    return [Sculpture(head, exposed(painted(head), factor)) for factor in (0.12, 2.0)]


def test_the_background_is_the_same_whoever_of_unlike_skin_stands_behind(deep_and_light):
    front, back = place(-200.0, 0.0, 100.0), place(200.0, 0.0, -100.0)
    _, one = drawn_of(deep_and_light, front, back)
    _, other = drawn_of(deep_and_light[::-1], front, back)
    assert_allclose(one[0, 0], other[0, 0], atol=8)  # each place has its own light


def test_skin_in_a_dark_picture_lets_nobody_behind_it_shine_through(deep_and_light):
    deep, light = deep_and_light
    near, far = place(0.0, 0.0, 250.0), place(0.0, 0.0, -250.0)
    group, both = drawn_of([deep, light], near, far, background_stops=-3.0)
    _, twice = drawn_of([deep, deep], near, far, background_stops=-3.0)
    _, top, _, high = group.picture_mm()
    px_per_mm = both.shape[0] / high
    eyes, middle, half = int(top * px_per_mm), both.shape[1] // 2, int(35.0 * px_per_mm)
    strip = np.s_[eyes:, middle - half : middle + half]
    assert_allclose(brightness(both)[strip], brightness(twice)[strip], atol=2)


def test_nobody_gives_an_empty_picture():
    lens = Setup(distance_mm=2000.0).lens_mm()
    assert draw_together([], lens, (-0.2, 0.2, 0.4, 0.4), 20).shape == (20, 20, 3)
