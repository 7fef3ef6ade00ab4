"""A head laid on its frame: the landmarks meet their own pixels, the light is the face's own."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.pictures.plain_frames import painted
from sitwell.head.surface import build_head
from sitwell.likeness.laid import lay
from sitwell.scene.skin_tone import middle_of_face

from .sitting import setups, take


@pytest.fixture(scope="module")
def turned(tmp_path_factory):
    head = build_head()
    reading = take(tmp_path_factory.mktemp("one"), head, painted(head), setups((35.0,)))
    return head, reading.frames[0]


def laid(turned, frame):
    head, _ = turned
    return lay(frame, frame.fitted, np.ones(len(head.vertices_mm)))


def test_what_the_landmarks_miss_moves_the_skin_around_them_and_not_the_crown(turned):
    head, frame = turned
    moved = frame.face.landmarks_px + np.array([3.0, -2.0])
    shifted = dataclasses.replace(frame, face=dataclasses.replace(frame.face, landmarks_px=moved))
    off = laid(turned, shifted).full_px - laid(turned, frame).full_px
    nose, crown = head.vertices_mm[:, 2].argmax(), head.vertices_mm[:, 1].argmax()
    assert_allclose(off[nose], (3.0, -2.0), atol=0.6)
    assert_allclose(off[crown], 0.0, atol=0.1)


def test_the_light_is_counted_against_the_middle_of_the_face(turned):
    head, frame = turned
    middle = head.triangles[
        middle_of_face(head.vertices_mm.astype(float), head.triangles, head.region_of_triangle)
    ]
    light = laid(turned, frame).light[middle].mean(axis=1)
    assert light.min() < 1.0 < light.max()
    assert 0.8 < light.mean() < 1.25


def test_a_frame_without_its_photograph_is_left_out(turned):
    _, frame = turned
    assert laid(turned, dataclasses.replace(frame, path=None)) is None
