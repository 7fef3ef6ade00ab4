"""The points' net looks where the crop lies, states a spread of its own, and its file is ours.

Faces here are rendered; no person is in them.
"""

import hashlib
import re
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.face_renders import Light, pose_at, render
from builders.points_hair import grow
from builders.points_pictures import make_points_picture
from builders.points_skin import bent_nose
from sitwell.base.errors import HeadError
from sitwell.face import points
from sitwell.face.points import (
    CELL_PX,
    DATA,
    EYES_AT_PX,
    HIGH_PX,
    LEAST_SPREAD_PX,
    MIRRORED,
    NAMES,
    WIDE_PX,
    crop_on,
    moments,
    see_points,
)
from sitwell.head.basis import landmarks_on
from sitwell.head.pose import project
from sitwell.head.surface import build_head
from sitwell.head.template import load_template

NOTICE = Path(__file__).resolve().parents[2] / "NOTICE"
SIZE, FOCAL_PX, AWAY_MM = 500, 2600.0, 1500.0
CENTRE = np.full(2, SIZE / 2)
NOSE = [NAMES.index(name) for name in NAMES if name.startswith("nose")]


def picture_of(head):
    pose = pose_at(12.0, 3.0, 2.0, AWAY_MM)
    rgb = render(
        head, pose, focal_px=FOCAL_PX, size_px=(SIZE, SIZE),
        lights=[Light(azimuth_deg=35, elevation_deg=30)], ambient=0.3,
    )  # fmt: skip
    seen = project(landmarks_on(head), pose, FOCAL_PX, CENTRE)
    true = project(np.array([head.point(name) for name in NAMES]), pose, FOCAL_PX, CENTRE)
    return rgb, np.vstack([seen, np.zeros((10, 2))]), true


@pytest.fixture(scope="module")
def leaning():
    return picture_of(build_head({"nose_lean": 1.5}))


def test_the_eyes_lie_where_the_crop_says(leaning):
    _, face, _ = leaning
    eyes = crop_on(face).from_picture(face[[263, 362, 33, 133]]).mean(axis=0)
    assert_allclose(eyes, EYES_AT_PX, atol=1e-6)


def test_a_leaning_nose_is_found_where_it_leans(leaning):
    rgb, face, true = leaning
    seen = see_points(rgb, face)
    off_mm = (seen.crop.to_picture(seen.places) - true) * AWAY_MM / FOCAL_PX
    upright, _, straight = picture_of(build_head())
    apart_mm = (true - straight)[:, 0] * AWAY_MM / FOCAL_PX
    assert apart_mm[NAMES.index("nose_tip")] > 4.0
    assert np.abs(off_mm[NOSE]).max() < 2.5
    assert upright.shape == rgb.shape


def test_a_mirrored_face_has_mirrored_points(leaning):
    rgb, face, _ = leaning
    swapped = face.copy()
    swapped[[263, 362, 33, 133, 61, 291]] = face[[33, 133, 263, 362, 291, 61]]
    swapped[:, 0] = SIZE - swapped[:, 0]
    straight = see_points(rgb, face)
    mirrored = see_points(np.ascontiguousarray(rgb[:, ::-1]), swapped)
    back = mirrored.places[list(MIRRORED)]
    assert_allclose(WIDE_PX - back[:, 0], straight.places[:, 0], atol=0.5)
    assert_allclose(back[:, 1], straight.places[:, 1], atol=0.5)


def test_what_is_covered_is_known_less_surely(leaning):
    rgb, face, true = leaning
    covered = rgb.copy()
    x, y = true[NAMES.index("nose_tip")].astype(int)
    covered[y - 70 : y + 70, x - 80 : x + 80] = 128
    spread = [
        np.sqrt(np.einsum("pii->pi", see_points(each, face).covariance))[NOSE].mean()
        for each in (rgb, covered)
    ]
    assert spread[1] > 1.5 * spread[0]


def test_a_map_of_one_cell_gives_its_middle_and_the_least_spread():
    maps = np.full((1, 1, 6, 4), -50.0, np.float32)
    maps[0, 0, 5, 1] = 50.0
    place, covariance = moments(maps)
    assert_allclose(place[0, 0], [1.5 * CELL_PX, 5.5 * CELL_PX])
    assert_allclose(covariance[0, 0], np.eye(2) * LEAST_SPREAD_PX**2, atol=1e-6)


def test_two_cells_give_the_spread_between_them():
    maps = np.full((1, 1, 6, 4), -50.0, np.float32)
    maps[0, 0, 1, 1] = maps[0, 0, 2, 3] = 50.0
    place, covariance = moments(maps)
    assert_allclose(place[0, 0], [2.5 * CELL_PX, 2.0 * CELL_PX])
    off = np.array([1.0, 0.5]) * CELL_PX
    assert_allclose(
        covariance[0, 0], np.outer(off, off) + np.eye(2) * LEAST_SPREAD_PX**2, atol=1e-6
    )


def test_a_net_that_cannot_be_read_says_what_to_do(leaning, tmp_path, monkeypatch):
    broken = tmp_path / "points.onnx"
    broken.write_bytes(b"no net")
    monkeypatch.setattr(points, "DATA", broken)
    with pytest.raises(HeadError, match=r"The net points\.onnx can't be read; install sitwell"):
        see_points(*leaning[:2])


def test_the_net_is_the_one_that_the_notice_names():
    named = re.search(r"points\.onnx.*?SHA-256 ([0-9a-f]{64})", NOTICE.read_text(), re.S)
    assert named
    assert named[1] == hashlib.sha256(DATA.read_bytes()).hexdigest()
    assert DATA.stat().st_size < 2_000_000


@pytest.mark.parametrize("seed", range(6))
def test_the_hairline_that_is_taught_is_where_hair_grows(seed):
    walk = load_template().hairline_walk
    grown = grow(build_head(hairline_mm=5.0), np.random.default_rng(seed))
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


def test_invented_pictures_come_again_from_the_same_number():
    first, again = (make_points_picture(np.random.default_rng(6)) for _ in range(2))
    assert (first.rgb == again.rgb).all()
    assert (first.places == again.places).all()
    assert first.rgb.shape == (HIGH_PX, WIDE_PX, 3)
