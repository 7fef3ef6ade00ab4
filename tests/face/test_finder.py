"""Faces are found where they are, at any size, and no face where there is none.

The picture is a public-domain portrait (NASA) that comes with scikit-image.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from sitwell.base.errors import ModelError
from sitwell.face.finder import find_spots, shared_of_smaller
from sitwell.face.model import model_path

data = pytest.importorskip("skimage.data")
# The face in the portrait below, forehead to chin and cheek to cheek, read off the picture by eye.
FACE = (90, 65, 160, 165)


@pytest.fixture(autouse=True)
def landmark_model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


def scene(*places, size=(1500, 1000)):
    """A grey picture with the portrait pasted at (left, top, height) places."""
    portrait = Image.fromarray(data.astronaut()).crop((100, 0, 350, 260))
    picture = Image.new("RGB", size, (90, 90, 90))
    for left, top, height in places:
        picture.paste(portrait.resize((height * 250 // 260, height)), (left, top))
    return np.asarray(picture)


def the_face(left, top, height):
    scale = height / 260
    return tuple(edge * scale + start for edge, start in zip(FACE, (left, top) * 2, strict=True))


@pytest.mark.parametrize("place", [(300, 50, 900), (700, 300, 500), (50, 600, 180)])
def test_a_face_of_any_size_is_found_where_it_is(place):
    (spot,) = find_spots(scene(place))
    assert shared_of_smaller(spot.box_px, the_face(*place)) > 0.9
    assert_allclose(spot.side_px, 110 * place[2] / 260, rtol=0.15)


def test_every_face_of_a_group_is_found_once():
    places = [(60, 100, 300), (500, 400, 280), (1000, 200, 320)]
    spots = sorted(find_spots(scene(*places)), key=lambda spot: spot.x_px)
    assert len(spots) == 3
    for spot, place in zip(spots, places, strict=True):
        assert shared_of_smaller(spot.box_px, the_face(*place)) > 0.9


def test_nothing_is_found_in_grey_or_in_a_strip():
    assert find_spots(scene()) == []
    assert find_spots(np.full((20, 900, 3), 128, dtype=np.uint8)) == []


def test_overlap_is_counted_in_the_smaller_box():
    assert shared_of_smaller((0, 0, 10, 10), (2, 2, 4, 4)) == 1.0
    assert shared_of_smaller((0, 0, 10, 10), (5, 0, 15, 10)) == 0.5
    assert shared_of_smaller((0, 0, 1, 1), (2, 2, 3, 3)) == 0.0
