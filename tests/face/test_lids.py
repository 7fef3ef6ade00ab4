"""Lid edges are found on drawn eyes, where the landmarks say something else.

The eyes are drawn: a pale almond with a dark disc in it, on skin. No person is in them.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageFilter

from sitwell.face.lids import eye_detail, find_lids

LANDMARKS = 478  # points a face of the face mesh model with irises

SIZE = (300, 160)
WIDTH_PX = 70.0
# corner to corner, own right eye at camera left
CORNERS = {"own_right": (40.0, 110.0), "own_left": (260.0, 190.0)}
UPPER = {
    "own_left": (263, 466, 388, 387, 386, 385, 384, 398, 362),
    "own_right": (33, 246, 161, 160, 159, 158, 157, 173, 133),
}
LOWER = {
    "own_left": (263, 249, 390, 373, 374, 380, 381, 382, 362),
    "own_right": (33, 7, 163, 144, 145, 153, 154, 155, 133),
}
MIDDLE_Y = 80.0
MOUTH = (150.0, 240.0)  # below the eyes by as much more as a mean face has it


def bow(share):
    return 1.0 - (2.0 * share - 1.0) ** 2


def drawn(openings_px):
    """Both eyes with (above, below) the corners' line in pixels at their middle."""
    x, y = np.meshgrid(np.arange(SIZE[0]) + 0.5, np.arange(SIZE[1]) + 0.5)
    picture = np.broadcast_to((190.0, 140.0, 115.0), (*x.shape, 3)).copy()
    for side, (above, below) in openings_px.items():
        outer, inner = CORNERS[side]
        share = (x - outer) / (inner - outer)
        rise = MIDDLE_Y - y
        arch = np.clip(bow(share), 0.0, None)
        eye = (rise < above * arch) & (rise > -below * arch)
        iris = np.hypot(x - (outer + inner) / 2, y - MIDDLE_Y) < 14
        picture[eye] = (225, 220, 215)
        picture[eye & iris] = (60, 45, 35)
    soft = Image.fromarray(picture.astype(np.uint8)).filter(ImageFilter.GaussianBlur(0.8))
    return np.asarray(soft)


def landmarks_for(above, below):
    """Both eyes' contours as if each were open by that much."""
    marks = np.zeros((LANDMARKS, 2))
    for side, (outer, inner) in CORNERS.items():
        share = np.linspace(0.0, 1.0, 9)
        for numbers, height in ((UPPER[side], -above), (LOWER[side], below)):
            marks[list(numbers), 0] = outer + share * (inner - outer)
            marks[list(numbers), 1] = MIDDLE_Y + height * bow(share)
    marks[[61, 291]] = MOUTH
    return marks


@pytest.mark.parametrize("openings", [(16, 9), (11, 9), (14, 12), (20, 10)])
def test_the_edge_in_the_picture_rules_over_the_landmarks(openings):
    picture = drawn({"own_left": (15, 10), "own_right": openings})
    lids = find_lids(picture, landmarks_for(15, 10))
    for side, (above, below) in (("own_left", (15, 10)), ("own_right", openings)):
        assert_allclose(lids[side].upper_px[1], MIDDLE_Y - above, atol=1.0)
        assert_allclose(lids[side].lower_px[1], MIDDLE_Y + below, atol=1.0)
        assert_allclose(lids[side].upper_px[0], sum(CORNERS[side]) / 2, atol=0.5)
        assert lids[side].sharpness > 3.0


def test_a_picture_in_black_and_white_serves_too():
    grey = np.asarray(
        Image.fromarray(drawn(dict.fromkeys(CORNERS, (13, 8)))).convert("L").convert("RGB")
    )
    lids = find_lids(grey, landmarks_for(15, 10))
    assert_allclose(lids["own_left"].upper_px[1], MIDDLE_Y - 13, atol=1.2)


def test_a_turned_picture_has_its_edges_turned():
    picture = np.rot90(drawn(dict.fromkeys(CORNERS, (13, 8))), -1)  # clockwise
    marks = landmarks_for(15, 10)
    turned = np.stack([SIZE[1] - marks[:, 1], marks[:, 0]], axis=1)
    lids = find_lids(np.ascontiguousarray(picture), turned)
    assert_allclose(lids["own_left"].upper_px[0], SIZE[1] - (MIDDLE_Y - 13), atol=1.0)


def test_plain_skin_has_no_edge():
    noise = np.random.default_rng(3).normal(150, 4, size=(SIZE[1], SIZE[0], 3)).astype(np.uint8)
    lids = find_lids(noise, landmarks_for(15, 10))
    assert all(edges.sharpness < 3.0 for edges in lids.values())


def test_eyes_of_few_pixels_and_eyes_outside_are_harmless():
    picture = drawn(dict.fromkeys(CORNERS, (13, 8)))
    assert find_lids(picture, landmarks_for(15, 10) / 5.0) == {}
    outside = find_lids(picture, landmarks_for(15, 10) + 1000.0)
    assert all(np.isfinite(edges.upper_px).all() for edges in outside.values())


def test_edges_go_with_the_size_of_the_picture():
    lids = find_lids(drawn(dict.fromkeys(CORNERS, (13, 8))), landmarks_for(15, 10))
    double = lids["own_left"].scaled(2.0)
    assert_allclose(double.upper_px, 2.0 * lids["own_left"].upper_px)
    assert double.sharpness == lids["own_left"].sharpness


def test_detail_falls_as_the_picture_blurs():
    picture = Image.fromarray(drawn(dict.fromkeys(CORNERS, (13, 8))))
    detail = [
        eye_detail(np.asarray(picture.filter(ImageFilter.GaussianBlur(px))), landmarks_for(15, 10))
        for px in (0, 1, 2, 4)
    ]
    assert detail == sorted(detail, reverse=True)
    assert detail[-1] < 0.5 * detail[0]


def test_a_turned_face_shows_no_more_detail_than_a_square_one():
    # a turn by 70 degrees narrows what lies on the face to about a third
    picture = Image.fromarray(drawn(dict.fromkeys(CORNERS, (13, 8))))
    turned = np.asarray(picture.resize((SIZE[0] * 35 // 100, SIZE[1]), Image.Resampling.BOX))
    square = eye_detail(np.asarray(picture), landmarks_for(15, 10))
    assert eye_detail(turned, landmarks_for(15, 10) * (0.35, 1.0)) < 1.5 * square
