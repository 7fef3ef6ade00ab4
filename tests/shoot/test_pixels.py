import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from sitwell.shoot.pixels import burnt_share, luminance, mirrored_share, sharpness, stops_between

MIDDLE = np.array([100.0, 100.0])
SQUARE = np.array([[50.0, 50.0], [149.0, 50.0], [149.0, 149.0], [50.0, 149.0]])


def grain(seed=0):
    rng = np.random.default_rng(seed)
    return rng.integers(40, 200, (200, 200, 3), dtype=np.uint8)


def blurred(rgb, radius):
    return np.asarray(Image.fromarray(rgb).filter(ImageFilter.GaussianBlur(radius)))


@given(st.integers(0, 50), st.floats(30, 90))
def test_sharpness_falls_as_gaussian_blur_grows(seed, half_px):
    # A focus measure's own law; which family is best depends on noise, contrast and window
    # (Pertuz, Puig and Garcia 2013, doi 10.1016/j.patcog.2012.11.011).
    values = [sharpness(blurred(grain(seed), r), MIDDLE, half_px) for r in (0, 0.8, 1.5, 3, 6)]
    assert all(a > b for a, b in itertools.pairwise(values))


def test_sharpness_forgives_exposure():
    darker = (grain() * 0.5).astype(np.uint8)
    assert sharpness(darker, MIDDLE, 40) == pytest.approx(sharpness(grain(), MIDDLE, 40), rel=0.02)


def test_what_is_flat_or_outside_the_picture_has_no_sharpness():
    assert sharpness(np.full((200, 200, 3), 90, np.uint8), MIDDLE, 40) == 0.0
    assert sharpness(grain(), np.array([-300.0, 20.0]), 40) == 0.0
    assert sharpness(grain(), np.array([-30.0, 20.0]), 40) == 0.0


def test_a_stop_is_a_factor_of_two_in_linear_light():
    # sRGB 188 is linear 0.5029, half of white: IEC 61966-2-1's curve.
    white, half = (np.full((200, 200, 3), v, np.uint8) for v in (255, 188))
    stops = stops_between(luminance(white, MIDDLE, 20), luminance(half, MIDDLE, 20))
    assert stops == pytest.approx(1.0, abs=0.01)
    assert stops_between(None, 0.5) is None
    assert luminance(white, np.array([900.0, 900.0]), 20) is None


def test_burnt_skin_is_counted_inside_the_outline_but_not_in_the_holes():
    rgb = grain()
    rgb[100:, :] = 255
    assert burnt_share(rgb, SQUARE, []) == pytest.approx(0.5, abs=0.02)
    hole = np.array([[50.0, 100.0], [149.0, 100.0], [149.0, 149.0], [50.0, 149.0]])
    assert burnt_share(rgb, SQUARE, [hole]) < 0.03


def test_one_colour_at_the_end_of_the_scale_is_not_burnt_out():
    rgb = grain()
    rgb[..., 0] = 255
    assert burnt_share(rgb, SQUARE, []) == 0.0
    assert mirrored_share(rgb, SQUARE) == 0.0


def test_a_mirrored_light_is_white_in_all_colours():
    rgb = grain()
    rgb[50:75, 50:150] = 255
    assert mirrored_share(rgb, SQUARE) == pytest.approx(0.25, abs=0.02)
    assert mirrored_share(rgb, SQUARE + 500) is None
