"""Halving against Pillow's own mean of squares."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from PIL import Image

from sitwell.face.shrink import halve


@pytest.mark.parametrize("size", [(60, 40), (61, 41), (2, 3)])
def test_a_halved_picture_is_the_mean_of_its_squares(size):
    rgb = np.random.default_rng(3).integers(0, 256, (*size, 3), dtype=np.uint8)
    even = rgb[: size[0] // 2 * 2, : size[1] // 2 * 2]
    assert_array_equal(halve(rgb), np.asarray(Image.fromarray(even).reduce(2)))


def test_a_part_of_a_picture_is_halved_without_the_rest():
    rgb = np.random.default_rng(4).integers(0, 256, (50, 70, 3), dtype=np.uint8)
    assert_array_equal(halve(rgb[10:30, 20:60]), halve(np.ascontiguousarray(rgb[10:30, 20:60])))
