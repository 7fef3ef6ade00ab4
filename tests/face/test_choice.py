"""The sitter's face is the only one, the far larger one, or the one counted from camera left."""

import numpy as np
import pytest

from sitwell.base.errors import FaceError
from sitwell.face.choice import choose_face
from sitwell.face.landmarks import FaceReading


def face(left_px, side_px):
    corners = np.array([[left_px, 0.0], [left_px + side_px, side_px]])
    return FaceReading(landmarks_px=corners, depth_px=np.zeros(2), blendshapes={}, matrix=np.eye(4))


def test_the_only_face_is_chosen():
    only = face(10, 100)
    assert choose_face([only], "a.jpg") is only


def test_no_face_says_what_to_give():
    with pytest.raises(FaceError) as caught:
        choose_face([], "a.jpg")
    assert str(caught.value) == (
        "No face was found in 'a.jpg'; give a frame that shows both eyes, turned less than "
        "about 50 degrees, with the face larger in the picture."
    )


def test_two_faces_ask_which_by_position():
    with pytest.raises(FaceError) as caught:
        choose_face([face(0, 100), face(300, 110)], "a.jpg")
    assert str(caught.value) == (
        "There are 2 faces in 'a.jpg'; say which is the sitter's, "
        "from 1 at camera left to 2 at camera right."
    )


def test_a_named_face_is_counted_from_camera_left():
    faces = [face(0, 100), face(300, 110)]
    assert choose_face(faces, "a.jpg", 1) is faces[0]
    assert choose_face(faces, "a.jpg", 2) is faces[1]


@pytest.mark.parametrize("number", [0, 3, -1])
def test_a_face_that_is_not_there_is_refused(number):
    with pytest.raises(FaceError) as caught:
        choose_face([face(0, 100), face(300, 110)], "a.jpg", number)
    assert str(caught.value) == (
        f"There is no face {number} in 'a.jpg'; choose from 1 to 2, counted from camera left."
    )


def test_a_far_smaller_face_is_a_passer_by():
    faces = [face(0, 50), face(300, 110)]
    assert choose_face(faces, "a.jpg") is faces[1]
