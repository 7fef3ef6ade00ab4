"""One look at a face: the crop keeps places, shares are shares, points state spreads of their own.

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

from builders.pictures.hair_worn import grow
from builders.pictures.picture import make_picture
from builders.pictures.ray_traced import Light, pose_at, render
from builders.pictures.scene import Given
from builders.pictures.skin import bent_nose
from sitwell.base.errors import HeadError
from sitwell.face import features
from sitwell.face.crop import cropped
from sitwell.face.features import CROP_PX, DATA, JUDGED, crop_on, see_features
from sitwell.face.parts import Part
from sitwell.face.points import MIRRORED, NAMES
from sitwell.head.basis import landmarks_on
from sitwell.head.pose import project
from sitwell.head.surface import build_head
from sitwell.head.template import load_template

NOTICE = Path(__file__).resolve().parents[2] / "NOTICE"
SIZE, FOCAL_PX, AWAY_MM = 600, 2200.0, 1500.0
CENTRE = np.full(2, SIZE / 2)
NOSE = [NAMES.index(name) for name in NAMES if name.startswith("nose")]
WORN = ("glasses", "hat", "beard", "mask", "hand", "hair-over-brows")


def landmarks_at(pose, head=None):
    iris = np.zeros((10, 2))  # not used by the crop
    return np.vstack([project(landmarks_on(head or build_head()), pose, FOCAL_PX, CENTRE), iris])


def picture_of(head, pose):
    return render(
        head, pose, focal_px=FOCAL_PX, size_px=(SIZE, SIZE),
        lights=[Light(azimuth_deg=35, elevation_deg=30)], ambient=0.3,
    )  # fmt: skip


@pytest.fixture(scope="module")
def leaning():
    """A turned head whose nose leans: its picture, its landmarks and where its points lie."""
    head, pose = build_head({"nose_lean": 1.5, "ear_wing": 0.5}), pose_at(12.0, 3.0, 2.0, AWAY_MM)
    named = {name: head.point(name) for name in NAMES if name in head.point_anchors}
    true = project(np.array(list(named.values())), pose, FOCAL_PX, CENTRE)
    return picture_of(head, pose), landmarks_at(pose, head), dict(zip(named, true, strict=True))


@pytest.fixture(scope="module")
def seen(leaning):
    return see_features(*leaning[:2])


@given(
    st.floats(-40, 40), st.floats(0.3, 4.0), st.floats(-500, 500), st.floats(-60, 60)
)  # fmt: skip
def test_the_crop_moves_turns_and_grows_with_the_face(angle_deg, size, shift_px, turn_deg):
    face = landmarks_at(pose_at(turn_deg, 0.0, 0.0, 1500.0))
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    moved = face @ np.array([[c, s], [-s, c]]) * size + shift_px
    before, after = crop_on(face).from_picture(face), crop_on(moved).from_picture(moved)
    assert_allclose(after[:468], before[:468], atol=1e-6)


def test_the_eyes_lie_in_the_middle_and_the_mouth_straight_below(leaning):
    _, face, _ = leaning
    crop = crop_on(face)
    eyes = crop.from_picture(face[[263, 362, 33, 133]]).mean(axis=0)
    mouth = crop.from_picture(face[[61, 291]]).mean(axis=0)
    assert_allclose(eyes, CROP_PX / 2, atol=1e-6)
    assert mouth[1] > eyes[1] + 30
    assert_allclose(crop.to_picture(crop.from_picture(face)), face, atol=1e-6)
    assert_allclose(crop.scaled(3.0).to_picture(eyes[None]), 3.0 * crop.to_picture(eyes[None]))


@pytest.mark.parametrize("large", [1, 3])
def test_the_crop_shows_a_spot_where_it_says(leaning, large):
    _, face, _ = leaning
    crop = crop_on(face * large)
    meant = np.array([161.5, 80.5])
    spot = crop.to_picture(meant[None])[0]
    y, x = np.mgrid[0 : SIZE * large, 0 : SIZE * large] + 0.5
    bright = 255 * np.exp(-((x - spot[0]) ** 2 + (y - spot[1]) ** 2) / (2 * (4 * large) ** 2))
    cut = cropped(np.repeat(bright[..., None], 3, axis=2).astype(np.uint8), crop, CROP_PX, CROP_PX)[
        ..., 0
    ]
    rows, columns = np.mgrid[0:CROP_PX, 0:CROP_PX] + 0.5
    found = np.array([(cut * columns).sum(), (cut * rows).sum()]) / cut.sum()
    assert_allclose(found, meant, atol=0.15)


def test_a_face_is_skin_with_an_ear_and_nothing_worn(seen):
    shares = seen.parts.shares
    middle = shares.shape[1] // 2
    assert_allclose(shares.sum(axis=0), 1.0, atol=1e-5)
    assert seen.parts.share(Part.SKIN)[middle : middle + 20, middle - 8 : middle + 8].mean() > 0.95
    assert seen.parts.share(Part.BACKGROUND)[:6, :6].mean() > 0.95
    assert (seen.parts.share(Part.EAR) > 0.5).sum() > 40
    assert max(seen.judged[name] for name in WORN) < 0.4
    assert seen.judged["ear-own-right"] > 0.8


def test_a_leaning_nose_is_found_where_it_leans(leaning, seen):
    _, _, true = leaning
    places = seen.points.crop.to_picture(seen.points.places)
    off = np.array([places[i] - true[NAMES[i]] for i in NOSE]) * AWAY_MM / FOCAL_PX
    upright = project(
        np.array([build_head().point("nose_tip")]), pose_at(12, 3, 2, AWAY_MM), FOCAL_PX, CENTRE
    )[0]
    assert (true["nose_tip"] - upright)[0] * AWAY_MM / FOCAL_PX > 4.0
    assert np.abs(off).max() < 3.0


def test_a_mirrored_face_has_mirrored_parts_points_and_judgements(leaning, seen):
    rgb, face, _ = leaning
    swapped = face.copy()
    swapped[[263, 362, 33, 133, 61, 291]] = face[[33, 133, 263, 362, 291, 61]]
    swapped[:, 0] = SIZE - swapped[:, 0]
    mirrored = see_features(np.ascontiguousarray(rgb[:, ::-1]), swapped)
    off = np.abs(mirrored.parts.shares[:, :, ::-1] - seen.parts.shares)
    assert off.mean() < 0.005
    assert np.quantile(off, 0.999) < 0.1
    back = mirrored.points.places[list(MIRRORED)]
    sure = np.sqrt(np.einsum("pii->p", seen.points.covariance)) < 4.0
    assert_allclose(CROP_PX - back[sure, 0], seen.points.places[sure, 0], atol=0.6)
    assert_allclose(back[sure, 1], seen.points.places[sure, 1], atol=0.6)
    assert_allclose(mirrored.judged["ear-own-left"], seen.judged["ear-own-right"], atol=0.05)


def test_what_is_covered_is_known_less_surely(leaning, seen):
    rgb, face, true = leaning
    covered = rgb.copy()
    x, y = true["nose_tip"].astype(int)
    covered[y - 70 : y + 70, x - 80 : x + 80] = 128
    spread = [
        np.sqrt(np.einsum("pii->pi", each.points.covariance))[NOSE].mean()
        for each in (seen, see_features(covered, face))
    ]
    assert spread[1] > 1.5 * spread[0]


def test_a_finer_picture_of_the_landmarks_gives_the_same_at_its_size(leaning, seen):
    rgb, face, _ = leaning
    twice = see_features(rgb, face * 2.0, scale=2.0)
    assert_allclose(
        twice.points.crop.to_picture(twice.points.places),
        2.0 * seen.points.crop.to_picture(seen.points.places),
        atol=1e-3,
    )
    assert_allclose(twice.parts.crop.axes_px, 2.0 * seen.parts.crop.axes_px)


def test_a_face_at_the_edge_of_its_picture_can_be_looked_at(leaning):
    rgb, face, _ = leaning
    cut = see_features(rgb[200:390, 200:390], face - 200.0)
    assert np.isfinite(cut.parts.shares).all()
    assert np.isfinite(cut.points.covariance).all()


def test_a_net_that_cannot_be_read_says_what_to_do(leaning, tmp_path, monkeypatch):
    broken = tmp_path / "face.onnx"
    broken.write_bytes(b"no net")
    monkeypatch.setattr(features, "DATA", broken)
    with pytest.raises(HeadError, match=r"The net face\.onnx can't be read; install sitwell again"):
        see_features(*leaning[:2])


def test_the_net_is_the_one_that_the_notice_names():
    named = re.search(r"face\.onnx.*?SHA-256 ([0-9a-f]{64})", NOTICE.read_text(), re.S)
    assert named
    assert named[1] == hashlib.sha256(DATA.read_bytes()).hexdigest()
    assert DATA.stat().st_size < 8_000_000


def test_points_are_told_apart_and_mirrored_in_pairs():
    assert len(set(NAMES)) == len(NAMES) > 100
    assert [MIRRORED[MIRRORED[i]] for i in range(len(NAMES))] == list(range(len(NAMES)))
    for side in ("own_left", "own_right"):
        assert sum(n.startswith("ear_") and n.endswith(side) for n in NAMES) == 20


def test_invented_pictures_come_again_from_the_same_number_and_fit_their_labels():
    first, again = (make_picture(np.random.default_rng(5), Given()) for _ in range(2))
    for name in ("rgb", "label", "places", "judged"):
        assert (getattr(first, name) == getattr(again, name)).all()
    assert first.rgb.shape == (CROP_PX, CROP_PX, 3)
    assert first.label.shape == (CROP_PX, CROP_PX)
    assert set(np.unique(first.label)) <= set(map(int, Part))
    assert set(first.judged) <= {-1.0, 0.0, 1.0}
    assert len(first.judged) == len(JUDGED)
    tip = first.places[NAMES.index("nose_tip")]
    assert (np.abs(tip - CROP_PX / 2) < 70).all()


@pytest.mark.parametrize("seed", range(6))
def test_the_hairline_that_is_taught_is_where_hair_grows(seed):
    walk = load_template().hairline_walk
    grown = grow(build_head(hairline_mm=5.0), np.random.default_rng(seed), tone=0.3)
    if grown.hair.style == "bald":
        assert np.isnan(grown.line_mm)
        return
    over = {step: grown.hair.grows[triangle] for step, (triangle, _) in walk.items()}
    assert over[int(grown.line_mm)]
    assert not any(over[step] for step in walk if step < grown.line_mm)


def test_a_bent_nose_leaves_eyes_and_chin_alone():
    head = build_head()
    moved = bent_nose(head.vertices_mm, np.random.default_rng(4)) - head.vertices_mm
    far = {name: np.linalg.norm(_at(head, moved, name)) for name in ("nose_tip", "chin", "crown")}
    assert far["nose_tip"] > 0.5
    assert far["chin"] == far["crown"] == 0.0
    for name in ("eye_outer_own_left", "eye_outer_own_right"):
        assert np.linalg.norm(_at(head, moved, name)) < 0.01


def _at(head, moved, name):
    triangle, weights = head.point_anchors[name]
    return weights @ moved[head.triangles[triangle]]
