"""Faces are found at any size and place, from camera left to right, in full-size pixels.

The picture is a public-domain portrait (NASA) that comes with scikit-image.
"""

import subprocess
import sys

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from sitwell.base.errors import ModelError
from sitwell.brief.photos import open_photo
from sitwell.face import landmarks
from sitwell.face.landmarks import LANDMARK_SIDE_PX, find_faces
from sitwell.face.model import model_path

LANDMARKS = 478  # points a face of the face mesh model with irises

data = pytest.importorskip("skimage.data")
NOSE_TIP, EYE_OUTER_OWN_RIGHT, EYE_OUTER_OWN_LEFT = 1, 33, 263


@pytest.fixture(autouse=True)
def landmark_model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


def portrait():
    """Head and shoulders, 260 pixels high; the face is about 110 of them."""
    return Image.fromarray(data.astronaut()).crop((100, 0, 350, 260))


def scene(tmp_path, places, size=(1500, 1000)):
    """A grey picture with the portrait pasted at (left, top, height) places."""
    picture = Image.new("RGB", size, (90, 90, 90))
    for left, top, height in places:
        picture.paste(portrait().resize((height * 250 // 260, height)), (left, top))
    path = tmp_path / "scene.png"
    picture.save(path)
    return open_photo(path, largest_side_px=LANDMARK_SIDE_PX)


def in_portrait(face, left, top, height):
    return (face.landmarks_px - (left, top)) / height


def test_one_face_is_read_with_all_its_landmarks(tmp_path):
    (face,) = find_faces(scene(tmp_path, [(300, 50, 800)]))
    assert face.landmarks_px.shape == (LANDMARKS, 2)
    assert set(face.blendshapes) > {"eyeBlinkLeft", "eyeSquintRight", "mouthSmileLeft"}
    assert face.blendshapes["mouthSmileLeft"] > 0.5  # she smiles
    assert face.blendshapes["eyeBlinkLeft"] < 0.3


def test_the_sitters_own_left_eye_is_at_camera_right(tmp_path):
    (face,) = find_faces(scene(tmp_path, [(300, 50, 800)]))
    marks = face.landmarks_px
    assert marks[EYE_OUTER_OWN_LEFT, 0] > marks[NOSE_TIP, 0] > marks[EYE_OUTER_OWN_RIGHT, 0]


@pytest.mark.parametrize("height", [500, 300, 180])
def test_a_small_face_is_found_and_lies_where_it_lies_when_large(tmp_path, height):
    (large,) = find_faces(scene(tmp_path, [(300, 50, 900)]))
    (small,) = find_faces(scene(tmp_path, [(700, 300, height)]))
    # within a hundredth of the face's height, which is 0.42 of the portrait's
    assert_allclose(
        in_portrait(small, 700, 300, height), in_portrait(large, 300, 50, 900), atol=0.0042 * 2
    )


def test_two_faces_are_counted_from_camera_left(tmp_path):
    faces = find_faces(scene(tmp_path, [(800, 200, 600), (50, 300, 500)]))
    assert len(faces) == 2
    assert faces[0].box_px[2] < 600 < 800 < faces[1].box_px[0]


def test_the_largest_faces_are_kept(tmp_path):
    (face,) = find_faces(scene(tmp_path, [(800, 200, 600), (50, 300, 500)]), max_faces=1)
    assert face.box_px[0] > 800


def test_positions_are_those_of_the_full_size_picture(tmp_path):
    photo = scene(tmp_path, [(600, 100, 1600)], size=(3000, 2000))
    assert photo.rgb.shape[1] < 3000
    (face,) = find_faces(photo)
    (reference,) = find_faces(photo.at_size(None))
    assert_allclose(face.landmarks_px, reference.landmarks_px, atol=0.01 * face.side_px)


def test_a_face_of_thousands_of_pixels_lies_where_it_lies_in_a_smaller_picture(tmp_path):
    (large,) = find_faces(scene(tmp_path, [(0, 0, 3901)], size=(3800, 3901)).at_size(None))
    (small,) = find_faces(scene(tmp_path, [(0, 0, 900)], size=(876, 900)))
    assert large.side_px > 4 * 384  # so that it was halved on the way
    assert_allclose(in_portrait(large, 0, 0, 3901), in_portrait(small, 0, 0, 900), atol=0.0042)


def test_a_picture_without_a_face_has_none(tmp_path):
    assert find_faces(scene(tmp_path, [])) == ()


def test_a_face_at_the_edge_is_read(tmp_path):
    (face,) = find_faces(scene(tmp_path, [(0, 0, 1000)], size=(900, 1000)))
    assert np.isfinite(face.landmarks_px).all()


def test_the_library_stays_off_the_terminal(tmp_path):
    scene(tmp_path, [(300, 50, 800)])
    program = (
        "from sitwell.brief.photos import open_photo\n"
        "from sitwell.face.landmarks import find_faces\n"
        f"print(len(find_faces(open_photo({str(tmp_path / 'scene.png')!r}))))\n"
    )
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", program], capture_output=True, text=True
    )
    assert (run.stdout, run.stderr, run.returncode) == ("1\n", "", 0)


def test_a_face_seen_only_in_a_mirror_is_read_where_it_is(tmp_path, monkeypatch):
    photo = scene(tmp_path, [(300, 120, 700)])
    (straight,) = find_faces(photo)
    look = landmarks._look

    def half_blind(rgb, box, side_px=0, *, in_mirror=False):
        return look(rgb, box, side_px, in_mirror=True) if in_mirror else []

    monkeypatch.setattr(landmarks, "_look", half_blind)
    (mirrored,) = find_faces(photo)
    off = np.linalg.norm(mirrored.landmarks_px - straight.landmarks_px, axis=1)
    assert off.mean() < 0.015 * straight.side_px
    turns = [
        np.degrees(np.arctan2(each.matrix[0, 2], each.matrix[2, 2]))
        for each in (straight, mirrored)
    ]
    assert abs(turns[0] - turns[1]) < 3.0
    assert set(mirrored.blendshapes) == set(straight.blendshapes)
