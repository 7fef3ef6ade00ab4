"""The invented sitters of another kind are as uneven as they are said to be, and whole."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

pytest.importorskip("mitsuba")  # what they wear is made of its parts

from builders.traced.faces import Face, bent, lids_outside, load_face, save_face
from builders.traced.hair import STYLES, grow_beard, grow_hair
from builders.traced.skin import (
    corner_normals,
    draw_look,
    eyeball,
    rounded,
    skin_colours,
    skin_regions,
    skin_surface,
)
from builders.traced.wear import draw_glasses, draw_hat, draw_hat_edge, tube
from sitwell.head.regions import Region
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import SIDES, build_head
from sitwell.head.template import load_template


@pytest.fixture(scope="module")
def heads():
    return [bent(build_head(), np.random.default_rng(seed)) for seed in range(40)]


@pytest.fixture(scope="module")
def sizes(heads):
    every = [head_sizes(head) for head in heads]
    return {name: np.array([each[name] for each in every]) for name in every[0]}


def test_noses_lean_to_both_sides_by_some_millimetres(sizes):
    lean = sizes["nose_lean_mm"]
    assert 0.25 < np.mean(lean > 0.0) < 0.75
    assert 1.8 < lean.std() < 3.5  # 2.5 mm is drawn for the tip, and dents add to it


def test_a_nose_leans_more_at_the_tip_than_at_the_root(heads):
    tip, halfway, root = (
        np.mean([abs(head.point(name)[0]) for head in heads])
        for name in ("nose_tip", "nose_ridge_3", "nose_root")
    )
    assert tip > 1.3 * halfway > 1.3 * root


def test_eyes_ears_and_size_differ(sizes):
    ratio = np.log(sizes["eye_opening_ratio"])
    assert 0.07 < ratio.std() < 0.2
    ears = sizes["ear_out_own_left_mm"] - sizes["ear_out_own_right_mm"]
    assert 1.5 < ears.std() < 5.0
    assert np.all(np.abs(sizes["interpupillary_mm"] - 63.0) <= 2.0 * 3.6 + 0.01)
    assert 2.5 < sizes["interpupillary_mm"].std() < 4.5


def test_lids_stay_outside_the_eyeballs(heads):
    for head in heads:
        for side, lids in load_template().lid_vertices.items():
            away = np.linalg.norm(head.vertices_mm[lids] - head.eye_centre_mm[side], axis=1)
            assert away.min() > head.eye_radius_mm


def test_the_same_draws_give_the_same_head(heads):
    again = bent(build_head(), np.random.default_rng(3))
    assert_allclose(again.vertices_mm, heads[3].vertices_mm)
    assert np.abs(heads[4].vertices_mm - heads[3].vertices_mm).max() > 1.0


def test_a_kept_face_comes_back_with_its_expressions(tmp_path, heads):
    smile = np.random.default_rng(1).normal(size=heads[0].vertices_mm.shape)
    names = ("smile", "blink", "squint", "brows", "talk", "pressed")
    face = Face(
        head=heads[0], female_share=0.3, old_share=0.8,
        pulls_mm={name: k * smile for k, name in enumerate(names)},
    )  # fmt: skip
    save_face(face, tmp_path / "face.npz")
    back = load_face(tmp_path / "face.npz")
    assert (back.female_share, back.old_share) == (0.3, 0.8)
    amounts = {"blink": 0.5, "talk": 0.1}
    assert_allclose(back.pulled(amounts).vertices_mm, face.pulled(amounts).vertices_mm, atol=1e-3)
    assert head_sizes(back.head) == head_sizes(face.head)
    moved = lids_outside(face.head, face.head.vertices_mm + 0.9 * smile)
    assert_allclose(face.pulled({"blink": 0.5, "talk": 0.1}).vertices_mm, moved, atol=1e-3)


def test_the_split_skin_keeps_its_corners_and_regions(heads):
    template, surface = load_template(), skin_surface()
    flat = surface.weights @ heads[0].vertices_mm
    places, normals = rounded(surface, heads[0])
    whole = np.asarray((surface.weights == 1.0).sum(axis=1)).ravel() > 0
    assert_allclose(places[whole], flat[whole], atol=1e-3)
    lifted = np.linalg.norm(places - flat, axis=1)
    # rounder, and still the head that was measured
    assert 0.05 < np.percentile(lifted, 99) < 1.2
    assert np.median(lifted) < 0.1
    assert_allclose(np.linalg.norm(normals, axis=1), 1.0, atol=1e-6)
    of_skin, middles = skin_regions(), flat[surface.triangles].mean(axis=1)
    tip = middles[np.arange(len(middles)) % len(of_skin) == 0]
    corners = heads[0].vertices_mm[template.triangles[: len(of_skin)]][0]
    assert np.all(tip >= corners.min(axis=0) - 1e-3)
    assert np.all(tip <= corners.max(axis=0) + 1e-3)
    sides = flat[surface.triangles[:, 0]] - flat[surface.triangles[:, 1]]
    assert np.median(np.linalg.norm(sides, axis=1)) < 0.8  # a pore's size


def test_what_is_on_the_skin_stays_on_it(heads):
    look = draw_look(np.random.default_rng(5))
    first, again = (skin_colours(heads[0], look) for _ in range(2))
    assert_allclose(first, again)
    assert first.min() > 0.0
    assert first.max() < 1.0
    cheek = np.isin(skin_regions(), (Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT))
    own = np.unique(skin_surface().triangles[np.resize(cheek, len(skin_surface().triangles))])
    tone = np.median(first[own], axis=0)
    assert_allclose(tone, look.tone, rtol=0.45)
    assert first[own].std(axis=0).min() > 0.02 * tone.min()


def test_the_pupil_is_where_the_eye_looks(heads):
    look, gaze = draw_look(np.random.default_rng(5)), np.array([0.3, 0.1, 0.95])
    gaze = gaze / np.linalg.norm(gaze)
    places, normals, colours = eyeball(heads[0], look, "own_left", gaze)
    darkest = normals[colours.sum(axis=1) < 0.0125]
    assert len(darkest) > 3
    assert np.degrees(np.median(np.arccos(darkest @ gaze))) < 11.0
    away = np.linalg.norm(places - heads[0].eye_centre_mm["own_left"], axis=1)
    assert_allclose(away, heads[0].eye_radius_mm, rtol=1e-5)


@pytest.mark.parametrize("style", [style for style in STYLES if style.length_mm[1]])
def test_hair_grows_from_the_scalp_and_stays_outside(heads, style):
    head, rng = heads[1], np.random.default_rng(2)
    hair = grow_hair(head, style, np.ones(len(head.vertices_mm)), rng, fringe=False).points_mm
    length = np.linalg.norm(np.diff(hair, axis=1), axis=2).sum(axis=1)
    assert style.length_mm[0] * 0.5 < np.median(length) < style.length_mm[1] * 2.0
    normals = corner_normals(head.vertices_mm.astype(float), load_template().triangles)
    inside = _height(head, normals, hair[:, -1])
    assert np.mean(inside < -1.0) < 0.05  # against every fourth vertex
    hung = hair[:, -1, 1].mean() - hair[:, 0, 1].mean()
    assert (hung < -60.0) == (style.hang > 0.5)


def test_a_fringe_comes_down_to_the_brows(heads):
    head, bare = heads[1], np.ones(len(heads[1].vertices_mm))
    short = next(style for style in STYLES if style.name == "short")
    low = [
        grow_hair(head, short, bare, np.random.default_rng(2), fringe=fringe).points_mm
        for fringe in (False, True)
    ]
    before = [hair[(hair[:, -1, 2] > -10.0)][:, -1, 1].min() for hair in low]
    assert before[1] < head.point("brow_own_left")[1] + 12.0 < before[0]


def test_a_beard_leaves_lips_and_nose_bare(heads):
    beard = grow_beard(heads[2], np.random.default_rng(0)).points_mm
    roots = beard[:, 0]
    assert roots[:, 1].max() < heads[2].point("nose_base")[1] + 6.0
    tip = np.linalg.norm(roots - heads[2].point("nose_tip"), axis=1)
    assert tip.min() > 6.0


def _height(head, normals, points):
    away = ((points[:, None] - head.vertices_mm[None, ::4]) ** 2).sum(axis=2)
    nearest = 4 * away.argmin(axis=1)
    return np.einsum("nc,nc->n", points - head.vertices_mm[nearest], normals[nearest])


@pytest.mark.parametrize("closed", [True, False])
def test_a_tube_has_one_wall(closed):
    angle = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    line = 20.0 * np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1)
    solid = tube(line, 1.5, np.ones(3), closed=closed)
    sides = np.sort(solid.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    _, count = np.unique(sides, axis=0, return_counts=True)
    assert set(count) == ({2} if closed else {1, 2})
    rings = solid.points_mm.reshape(12, -1, 3)
    assert_allclose(np.linalg.norm(rings - line[:, None], axis=2), 1.5)


def test_glasses_stand_before_the_eyes_and_reach_the_ears(heads):
    for seed, head in enumerate(heads[:8]):
        solids = draw_glasses(head, np.random.default_rng(seed))
        for side in SIDES:
            lens, eye = solids[f"glasses_lens_{side}"], np.asarray(head.eye_centre_mm[side])
            assert lens.clear
            assert lens.points_mm[:, 2].min() > eye[2] + head.eye_radius_mm
            assert np.abs(lens.points_mm.mean(axis=0) - eye)[:2].max() < 9.0
            bow = solids[f"glasses_bow_{side}"].points_mm
            assert np.linalg.norm(bow - head.point(f"ear_top_{side}"), axis=1).min() < 15.0


def test_a_hat_covers_the_crown_and_leaves_the_eyes_free(heads):
    for seed, head in enumerate(heads[:8]):
        rng = np.random.default_rng(seed)
        solids = draw_hat(head, draw_hat_edge(head, rng), rng)
        assert solids["hat"].points_mm[:, 1].max() > head.point("crown")[1]
        front = solids["hat"].points_mm[solids["hat"].points_mm[:, 2] > -20.0]
        assert front[:, 1].min() > head.point("brow_own_left")[1] + 5.0
