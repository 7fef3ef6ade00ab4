"""The crop lies upright on a face and keeps places; the net's shares are shares; its file is ours.

Faces here are rendered; no person is in them.
"""

import hashlib
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from builders.face_renders import Light, pose_at, render
from builders.parts_pictures import FINE, make_picture
from sitwell.base.errors import HeadError
from sitwell.face import parts
from sitwell.face.crop import cropped
from sitwell.face.parts import CROP_PX, DATA, Part, crop_on, see_parts
from sitwell.head.basis import landmarks_on
from sitwell.head.pose import project
from sitwell.head.surface import build_head

NOTICE = Path(__file__).resolve().parents[2] / "NOTICE"
SIZE, FOCAL_PX = 400, 1500.0
CENTRE = np.full(2, SIZE / 2)


def landmarks_at(pose):
    iris = np.zeros((10, 2))  # not used by the crop
    seen = project(landmarks_on(build_head()), pose, FOCAL_PX, CENTRE)
    return np.vstack([seen, iris])


@pytest.fixture(scope="module")
def front():
    pose = pose_at(0.0, 0.0, 0.0, 1500.0)
    rgb = render(
        build_head(), pose, focal_px=FOCAL_PX, size_px=(SIZE, SIZE),
        lights=[Light(azimuth_deg=30, elevation_deg=30)], ambient=0.3,
    )  # fmt: skip
    return rgb, landmarks_at(pose)


@given(
    st.floats(-40, 40), st.floats(0.3, 4.0), st.floats(-500, 500), st.floats(-60, 60)
)  # fmt: skip
def test_the_crop_moves_turns_and_grows_with_the_face(angle_deg, size, shift_px, turn_deg):
    face = landmarks_at(pose_at(turn_deg, 0.0, 0.0, 1500.0))
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    moved = face @ np.array([[c, s], [-s, c]]) * size + shift_px
    before, after = crop_on(face).from_picture(face), crop_on(moved).from_picture(moved)
    assert_allclose(after[:468], before[:468], atol=1e-6)


def test_the_eyes_lie_in_the_middle_and_the_mouth_straight_below(front):
    _, face = front
    crop = crop_on(face)
    eyes = crop.from_picture(face[[263, 362, 33, 133]]).mean(axis=0)
    mouth = crop.from_picture(face[[61, 291]]).mean(axis=0)
    assert_allclose(eyes, CROP_PX / 2, atol=1e-6)
    assert_allclose(mouth[0], CROP_PX / 2, atol=0.5)
    assert mouth[1] > eyes[1] + 30
    assert_allclose(crop.to_picture(crop.from_picture(face)), face, atol=1e-6)
    assert_allclose(crop.scaled(3.0).to_picture(eyes[None]), 3.0 * crop.to_picture(eyes[None]))


@pytest.mark.parametrize("large", [1, 3])
def test_the_crop_shows_a_spot_where_it_says(front, large):
    _, face = front
    crop = crop_on(face * large)
    meant = np.array([131.5, 60.5])
    spot = crop.to_picture(meant[None])[0]
    y, x = np.mgrid[0 : SIZE * large, 0 : SIZE * large] + 0.5
    bright = 255 * np.exp(-((x - spot[0]) ** 2 + (y - spot[1]) ** 2) / (2 * (4 * large) ** 2))
    cut = cropped(np.repeat(bright[..., None], 3, axis=2).astype(np.uint8), crop, CROP_PX, CROP_PX)[
        ..., 0
    ]
    rows, columns = np.mgrid[0:CROP_PX, 0:CROP_PX] + 0.5
    found = np.array([(cut * columns).sum(), (cut * rows).sum()]) / cut.sum()
    assert_allclose(found, meant, atol=0.15)


def test_a_face_is_skin_with_an_ear_on_each_side_and_nothing_worn(front):
    seen = see_parts(*front)
    assert_allclose(seen.shares.sum(axis=0), 1.0, atol=1e-5)
    assert seen.share(Part.SKIN)[100:130, 80:112].mean() > 0.95  # nose and cheeks
    assert seen.share(Part.BACKGROUND)[:10, :10].mean() > 0.95
    ear = seen.share(Part.EAR) > 0.5
    for side in (ear[:, : CROP_PX // 2], ear[:, CROP_PX // 2 :]):
        assert 80 < side.sum() < 600
    worn = seen.share(Part.HAT, Part.GLASSES, Part.MASK, Part.HAND, Part.BEARD)
    assert (worn > 0.5).sum() < 10


def test_a_mirrored_face_has_mirrored_parts(front):
    rgb, face = front
    swapped = face.copy()
    swapped[[263, 362, 33, 133, 61, 291]] = face[[33, 133, 263, 362, 291, 61]]
    swapped[:, 0] = SIZE - swapped[:, 0]
    straight, mirrored = see_parts(rgb, face), see_parts(rgb[:, ::-1], swapped)
    assert_allclose(mirrored.shares[:, :, ::-1], straight.shares, atol=0.05)


def test_a_face_at_the_edge_of_its_picture_can_be_looked_at(front):
    rgb, face = front
    cut = rgb[150:260, 150:260]
    assert np.isfinite(see_parts(cut, face - 150.0).shares).all()


def test_a_net_that_cannot_be_read_says_what_to_do(front, tmp_path, monkeypatch):
    broken = tmp_path / "parts.onnx"
    broken.write_bytes(b"no net")
    monkeypatch.setattr(parts, "DATA", broken)
    words = r"The net parts\.onnx can't be read; install sitwell again\."
    with pytest.raises(HeadError, match=words):
        see_parts(*front)


def test_the_net_is_the_one_that_the_notice_names():
    named = re.search(r"parts\.onnx.*?SHA-256 ([0-9a-f]{64})", NOTICE.read_text(), re.S)
    assert named
    assert named[1] == hashlib.sha256(DATA.read_bytes()).hexdigest()
    assert DATA.stat().st_size < 2_000_000


def test_invented_pictures_come_again_from_the_same_number_and_fit_their_labels():
    first, again = (make_picture(np.random.default_rng(5)) for _ in range(2))
    assert (first.rgb == again.rgb).all()
    assert (first.label == again.label).all()
    assert first.rgb.shape == (CROP_PX, CROP_PX, 3)
    assert first.label.shape == (FINE * CROP_PX,) * 2
    assert set(np.unique(first.label)) <= set(map(int, Part))
    middle = first.label[len(first.label) // 2 :, len(first.label) // 3 : -len(first.label) // 3]
    assert (middle == Part.SKIN).mean() > 0.2
