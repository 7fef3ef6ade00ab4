"""Sittings are photographed, looked at and read back; a stopped run goes on."""

import dataclasses
import json

import numpy as np
import pytest
from numpy.testing import assert_allclose

pytest.importorskip("mitsuba")

import mitsuba

from benchmarks.other_rows import is_there
from builders.references.mitsuba_scene import VARIANT
from builders.traced import sittings as other_sittings
from builders.traced import studio as other_studio
from builders.traced.faces import PULLED, Face, save_face
from builders.traced.hair import STYLES, grow_hair
from builders.traced.skin import draw_look, skin_colours
from builders.traced.studio import Posed, body, draw_light, look_at, photograph
from builders.traced.wear import Wear, draw_glasses, draw_wear, strands
from sitwell.base.rotations import direction_from_angles
from sitwell.head.pose import HeadPose
from sitwell.head.surface import build_head

SIZE_PX, FOCAL_PX = 160, 600.0
POSE = HeadPose(rotation=np.eye(3), place_mm=np.array([0.0, 0.0, -1500.0]))
AHEAD = np.array([0.0, 0.0, 1.0])


@pytest.fixture(scope="module", autouse=True)
def small():
    mitsuba.set_variant(VARIANT)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(other_studio, "SAMPLES", 2)
        patch.setattr(other_studio, "_LOOK_PX", 160)
        patch.setattr(other_studio, "SIZE_PX", SIZE_PX)
        patch.setattr(other_sittings, "SIZE_PX", SIZE_PX)
        yield


@pytest.fixture(scope="module")
def look():
    return dataclasses.replace(draw_look(np.random.default_rng(4)), bald=False)


@pytest.fixture(scope="module")
def skin(look):
    head = build_head()
    return body(head, look, skin_colours(head, look), POSE, AHEAD)


@pytest.fixture(scope="module")
def face():
    still = build_head()
    pulls = dict.fromkeys(PULLED, np.zeros_like(still.vertices_mm, dtype=float))
    return Face(head=still, female_share=0.5, old_share=0.5, pulls_mm=pulls)


def posed(skin, solids):
    return Posed(pose=POSE, body=skin, worn=Wear(style="any", solids=solids).parts(POSE))


def test_nothing_worn_hides_nothing(skin):
    seen = look_at(posed(skin, {}), FOCAL_PX)
    assert seen.ears_shown == (1.0, 1.0)
    assert set(seen.covers.values()) == {0.0}


def test_glasses_take_their_own_area_and_no_ear(skin):
    seen = look_at(posed(skin, draw_glasses(build_head(), np.random.default_rng(1))), FOCAL_PX)
    assert 1500.0 < seen.covers["glasses"] < 7000.0  # two lenses of 42 to 54 by 28 to 42 mm
    assert seen.covers["hat"] == seen.covers["beard"] == 0.0
    assert min(seen.ears_shown) > 0.7


def test_long_hair_hides_the_ears_and_a_fringe_the_brows(skin, look):
    head, rng = build_head(), np.random.default_rng(1)
    bob = dataclasses.replace(next(s for s in STYLES if s.name == "bob"), length_mm=(160, 165))
    bare = np.ones(len(head.vertices_mm))
    shown, brows = [], []
    for fringe in (False, True):
        hair = strands(grow_hair(head, bob, bare, rng, fringe=fringe), look.hair, rng)
        seen = look_at(posed(skin, {"hair": hair}), FOCAL_PX)
        shown.append(max(seen.ears_shown))
        brows.append(seen.covers["hair-over-brows"])
    assert max(shown) < 0.75
    assert brows[1] > 2.0 * brows[0] > 0.0


def test_a_picture_is_lit_from_where_the_key_stands(skin, look):
    rng = np.random.default_rng(2)
    light = dataclasses.replace(
        draw_light(look.tone, rng), azimuth_deg=50.0, elevation_deg=20.0, second=None,
        room=np.full(3, 0.05), exposure=1.0 / float(look.tone.mean()),
    )  # fmt: skip
    sides = []
    for azimuth_deg in (50.0, -50.0):
        turned = dataclasses.replace(light, azimuth_deg=azimuth_deg)
        picture = photograph(posed(skin, {}), turned, FOCAL_PX, np.random.default_rng(0))
        assert picture.shape == (SIZE_PX, SIZE_PX, 3)
        face = picture[80:100].astype(float).mean(axis=(0, 2))
        sides.append(face[88:98].mean() - face[62:72].mean())
    assert sides[0] > 15.0
    assert sides[1] < -15.0


def test_no_light_stands_before_the_lens():
    for seed in range(200):
        light = draw_light(np.full(3, 0.3), np.random.default_rng(seed))
        for azimuth_deg, elevation_deg, _ in light.sources:
            toward = light.distance_mm * direction_from_angles(azimuth_deg, elevation_deg)
            assert toward[2] < 0.0 or np.hypot(*toward[:2]) > light.radius_mm + 200.0


def test_who_wears_what_is_drawn_by_the_seed(look):
    head = build_head()
    first, again = (draw_wear(head, look, np.random.default_rng(11)) for _ in range(2))
    assert first.style == again.style
    assert list(first.solids) == list(again.solids)
    for name, solid in first.solids.items():
        assert_allclose(solid.points_mm, again.solids[name].points_mm)
    worn = [set(draw_wear(head, look, np.random.default_rng(s)).solids) for s in range(25, 37)]
    for name in ("hair", "beard", "hat", "glasses_bridge"):
        assert 1 <= sum(name in each for each in worn) < 12


def test_a_sitting_is_kept_and_a_stopped_one_goes_on(tmp_path, face, monkeypatch):
    monkeypatch.setattr(other_sittings, "TURN_BANDS_DEG", ((0.0, 0.0), (20.0, 45.0)))
    monkeypatch.setattr(
        other_sittings, "draw_wear", lambda head, look, rng: Wear(style="bald", solids={})
    )
    place = tmp_path / "sitting-000"
    place.mkdir()
    save_face(face, place / "face.npz")
    other_sittings.photograph_into(tmp_path, 0, 8, frames=[0])
    assert list(other_sittings.read_sittings(tmp_path, 1)) == []
    first = (place / "frame-0.jpg").stat().st_mtime_ns
    other_sittings.make_sittings(tmp_path, 1, 8)
    assert (place / "frame-0.jpg").stat().st_mtime_ns == first
    (sitting,) = other_sittings.read_sittings(tmp_path, 1)
    level, turned = sitting.shots
    assert level.pose.seen_deg == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)
    assert 20.0 < abs(turned.pose.seen_deg[0]) < 45.0
    assert turned.pose.seen_deg == pytest.approx(
        (turned.turn_deg, turned.chin_deg, turned.tilt_deg), abs=1e-6
    )
    assert_allclose(turned.distance_mm, np.linalg.norm(turned.place_mm))
    assert 0.6 < level.distance_mm / turned.distance_mm < 1.67  # a quarter to either side
    kept = json.loads((place / "sitter.json").read_text("utf-8"))
    assert kept["focal_35_mm"] == sitting.focal_35_mm


def test_what_hardly_shows_is_neither_there_nor_absent(tmp_path, face):
    shot = other_sittings.Shot(
        file="", turn_deg=0.0, chin_deg=0.0, tilt_deg=0.0, place_mm=(0.0, 0.0, -1500.0),
        key_azimuth_deg=0.0, key_elevation_deg=0.0, pulled={},
        covers={"glasses": 300.0, "hat": 0.0, "beard": 100.0, "hair-over-brows": 0.2},
        ears_shown=(0.1, None),
    )  # fmt: skip
    sitting = other_sittings.Sitting(
        folder=tmp_path, face=face, focal_35_mm=85.0, tone=0.2, hair="bob", stubble=0.0,
        shots=(shot,),
    )  # fmt: skip
    there = {name: is_there(sitting, shot, name) for name in (*shot.covers, "mask")}
    assert there == {
        "glasses": True, "hat": False, "beard": None, "hair-over-brows": None, "mask": False
    }  # fmt: skip
    assert is_there(sitting, shot, "hair-over-ear-own-left") is True
    assert is_there(sitting, shot, "hair-over-ear-own-right") is None
    stubbled = dataclasses.replace(sitting, stubble=0.6)
    bare = dataclasses.replace(shot, covers={})
    assert is_there(stubbled, bare, "beard") is None
    assert is_there(sitting, bare, "beard") is False
