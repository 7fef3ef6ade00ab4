"""The landmarks against those of the model's makers' own library, on the same pictures.

Faces are the public-domain portrait (NASA) that comes with scikit-image, and rendered heads. With
SITWELL_PHOTOGRAPHS in the environment, a folder's photographs are held against it too.
"""

import os
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from builders.pictures.plain_frames import SHAPE, frames_to_take, write_frames
from builders.pictures.ray_traced import Light, pose_at, render
from builders.references.reference_landmarker import reference_landmarker
from sitwell.base.errors import ModelError
from sitwell.face import bundle
from sitwell.face.landmarker import see_faces
from sitwell.face.model import model_path
from sitwell.head.surface import build_head

data = pytest.importorskip("skimage.data")
NEAR_PX, NEAR_SCORE, NEAR_MATRIX = 0.1, 0.005, 0.005
PHOTOGRAPHS = os.environ.get("SITWELL_PHOTOGRAPHS", "")


@pytest.fixture(autouse=True)
def landmark_model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


@pytest.fixture(scope="module")
def reference():
    if find_spec("mediapipe") is None:
        pytest.skip("the reference is not installed")
    return reference_landmarker()


def agree(reference, rgb):
    """That both see the same faces in the same places; returns how many there are."""
    theirs, ours = reference(rgb), see_faces(rgb)
    assert len(ours) == len(theirs)
    for mine, yours in zip(ours, theirs, strict=True):
        off = np.linalg.norm(mine.landmarks_px - yours.landmarks_px, axis=1)
        assert off.max() < NEAR_PX
        assert_allclose(mine.depth_px, yours.depth_px, atol=2 * NEAR_PX)
        assert list(mine.blendshapes) == list(yours.blendshapes)
        scores = [list(each.blendshapes.values()) for each in (mine, yours)]
        assert_allclose(*scores, atol=NEAR_SCORE)
        assert_allclose(mine.matrix[:3, :3], yours.matrix[:3, :3], atol=NEAR_MATRIX)
        assert_allclose(mine.matrix[:3, 3], yours.matrix[:3, 3], atol=10 * NEAR_MATRIX)
    return len(ours)


def portrait():
    return Image.fromarray(data.astronaut()).crop((100, 0, 350, 260))


@pytest.mark.parametrize(
    "size", [(384, 384), (500, 500), (613, 640), (640, 481), (163, 131), (300, 600), (1250, 1300)]
)
def test_a_picture_of_any_size_and_shape(reference, size):
    assert agree(reference, np.asarray(portrait().resize(size))) == 1


@pytest.mark.parametrize("lean_deg", [-70, -25, 10, 40])
def test_a_leaning_head(reference, lean_deg):
    leaning = portrait().resize((500, 520)).rotate(lean_deg, expand=True)
    assert agree(reference, np.asarray(leaning)) == 1


def test_several_faces(reference):
    picture = Image.new("RGB", (900, 800), (90, 90, 90))
    for left, top, high in [(0, 0, 420), (480, 30, 400), (60, 400, 390), (500, 410, 380)]:
        picture.paste(portrait().resize((high * 250 // 260, high)), (left, top))
    assert agree(reference, np.asarray(picture)) > 1


def test_a_face_cut_by_the_edge(reference):
    whole = np.asarray(portrait().resize((500, 520)))
    cuts = (whole[:, 190:], whole[130:], whole[:300], whole[:, :300])
    assert sum(agree(reference, cut) for cut in cuts) > 1


@pytest.mark.parametrize("turn_deg", [-60.0, -40.0, -20.0, 0.0, 30.0, 50.0, 75.0])
def test_a_turned_head(reference, turn_deg):
    pose = pose_at(turn_deg, -5.0 + turn_deg / 10, 4.0, 1500.0)
    lamp = Light(azimuth_deg=40.0, elevation_deg=30.0)
    rgb = render(
        build_head(), pose, focal_px=1200.0, size_px=(420, 420), lights=[lamp], ambient=0.3
    )
    assert agree(reference, rgb) == 1


def test_the_demo_frames(reference, tmp_path):
    for frame in write_frames(build_head(SHAPE), frames_to_take(), tmp_path)[0]:
        with Image.open(frame) as image:
            rgb = np.asarray(image.convert("RGB"))
        assert agree(reference, rgb) == 1


@pytest.mark.skipif(not PHOTOGRAPHS, reason="SITWELL_PHOTOGRAPHS names no folder of photographs")
def test_photographs_of_people(reference):
    paths = sorted(Path(PHOTOGRAPHS).glob("*.jpg"))
    assert paths
    for number, path in enumerate(paths):
        with Image.open(path) as image:
            rgb = np.asarray(image.convert("RGB"))
        assert agree(reference, rgb) >= 0, f"photograph {number}"


def test_nothing_is_seen_in_grey_or_in_a_single_pixel():
    assert see_faces(np.full((400, 300, 3), 90, dtype=np.uint8)) == []
    assert see_faces(np.zeros((1, 1, 3), dtype=np.uint8)) == []


def test_a_net_that_opencv_cannot_read_is_named(monkeypatch):
    monkeypatch.setattr(bundle, "_member", lambda *_: b"no net")
    bundle._net.cache_clear()
    try:
        with pytest.raises(ModelError, match=r"face_detector\.tflite in the landmark model can't"):
            see_faces(np.zeros((64, 64, 3), dtype=np.uint8))
    finally:
        bundle._net.cache_clear()
