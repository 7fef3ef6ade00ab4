"""The key is found from shading on renders under known light, whatever the skin's tone."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.pictures.ray_traced import Light, Look, pose_at, render
from sitwell.base.rotations import direction_from_angles
from sitwell.head.shading import (
    _best_key,
    _skin_patches,
    _without_gloss,
    linear_from_srgb,
    read_light,
)
from sitwell.head.surface import build_head

SIZE_PX, DISTANCE_MM = 260, 1500.0
FOCAL_PX = SIZE_PX / 250 * DISTANCE_MM
CENTRE = np.array([SIZE_PX / 2, SIZE_PX / 2])
DARK, LIGHT = np.array([0.07, 0.045, 0.03]), np.array([0.5, 0.36, 0.28])


def reading(lights, turn=0.0, ambient=0.3, skin=LIGHT, head=None):
    head, pose = head or build_head(), pose_at(turn, 0.0, 0.0, DISTANCE_MM)
    rgb = render(
        head, pose, focal_px=FOCAL_PX, size_px=(SIZE_PX, SIZE_PX), lights=lights,
        ambient=ambient, look=Look(skin=skin),
    )  # fmt: skip
    return read_light(rgb, head, pose, FOCAL_PX, CENTRE)


def off_deg(light, azimuth, elevation):
    found = direction_from_angles(light.key_azimuth_deg, light.key_elevation_deg)
    cosine = found @ direction_from_angles(azimuth, elevation)
    return np.degrees(np.arccos(np.clip(cosine, -1, 1)))


@pytest.mark.parametrize("skin", [DARK, LIGHT], ids=["deep skin", "fair skin"])
@pytest.mark.parametrize(
    ("azimuth", "elevation", "turn"),
    [(-60, 10, 0), (-35, 40, 20), (0, 25, -15), (30, 30, 0), (50, 5, -25), (70, 30, 10)],
)
def test_one_key_is_found_within_eight_degrees(azimuth, elevation, turn, skin):
    light = reading(
        [Light(azimuth_deg=azimuth, elevation_deg=elevation, samples=6)], turn, 0.3, skin
    )
    assert off_deg(light, azimuth, elevation) < 8.0
    assert light.spread_deg < 25.0


@pytest.mark.parametrize("ambient", [0.125, 0.25, 0.5])
def test_the_ratio_of_key_and_fill_is_additive(ambient):
    light = reading([Light(azimuth_deg=40, elevation_deg=20, strength=1.0, samples=6)], 0, ambient)
    stops = np.log2(light.fill_ratio) - np.log2((1.0 + ambient) / ambient)
    assert abs(stops) < 0.5


def test_even_light_has_no_key():
    assert reading([], ambient=0.8).key_share < 0.05


def test_the_key_at_the_other_side_is_the_mirror_image():
    sides = [
        reading([Light(azimuth_deg=a, elevation_deg=20, size_deg=0.1, samples=1)])
        for a in (-40, 40)
    ]
    assert_allclose(sides[0].key_azimuth_deg, -sides[1].key_azimuth_deg, atol=4.0)
    assert_allclose(sides[0].key_elevation_deg, sides[1].key_elevation_deg, atol=4.0)


def test_too_little_skin_gives_nothing():
    black = np.zeros((20, 20, 3), dtype=np.uint8)
    pose = pose_at(0, 0, 0, DISTANCE_MM)
    assert read_light(black, build_head(), pose, FOCAL_PX, np.array([-900.0, 0.0])) is None


def test_srgb_is_undone():
    # IEC 61966-2-1: byte 188 is linear 0.5029, byte 118 is 0.1812 (from the formula)
    assert_allclose(
        linear_from_srgb(np.array([0, 118, 188, 255])), [0, 0.1812, 0.5029, 1], atol=1e-4
    )


def test_a_near_key_is_not_taken_for_one_farther_round():
    # Lambert's law and the inverse square, written out for each patch; a metre off, 40 round, 30 up
    patches = _skin_patches(
        np.full((SIZE_PX, SIZE_PX, 3), 120, dtype=np.uint8),
        build_head(), pose_at(0, 0, 0, DISTANCE_MM), FOCAL_PX, CENTRE,
    )  # fmt: skip
    key_mm = 1000.0 * direction_from_angles(40, 30)
    light = []
    for place, normal in zip(patches.place_mm, patches.normal, strict=True):
        way = key_mm - place
        far = np.linalg.norm(way)
        light.append(0.1 + 0.4 * max(0.0, normal @ way / far) * (1000.0 / far) ** 2)
    near = dataclasses.replace(patches, light=np.array(light))
    assert off_deg(_best_key(near, near.place_mm), 40, 30) < 3.0


def test_what_shines_uncoloured_is_taken_from_the_skins_light():
    rng = np.random.default_rng(3)
    lit, gloss = rng.uniform(0.05, 1.0, 400), rng.uniform(0.0, 0.2, 400) * (rng.random(400) < 0.4)
    colour = lit[:, None] * DARK + gloss[:, None]
    left = _without_gloss(colour) - lit[:, None] * DARK
    assert np.abs(left).max() < 0.35 * gloss.max()
    assert_allclose(left[gloss == 0.0], 0.0, atol=1e-3)


def test_grey_pictures_are_left_as_they_are():
    grey = np.repeat(np.random.default_rng(3).uniform(0.05, 1.0, (50, 1)), 3, axis=1)
    assert_allclose(_without_gloss(grey), grey)


def test_shine_on_the_far_side_of_deep_skin_does_not_pull_the_key_over():
    head, pose = build_head(), pose_at(0.0, 0.0, 0.0, DISTANCE_MM)
    rgb = render(
        head, pose, focal_px=FOCAL_PX, size_px=(SIZE_PX, SIZE_PX),
        lights=[Light(azimuth_deg=45, elevation_deg=20, samples=6)], look=Look(skin=DARK),
    )  # fmt: skip
    y, x = np.mgrid[:SIZE_PX, :SIZE_PX]
    middle = SIZE_PX / 2 - 60.0
    spot = np.exp(-0.5 * (((x - middle) / 22.0) ** 2 + ((y - SIZE_PX / 2 - 20.0) / 30.0) ** 2))
    linear = linear_from_srgb(rgb)
    skin = (linear[..., 0] > 1.25 * linear[..., 2])[..., None]
    shining = np.clip(linear + 0.05 * spot[..., None] * skin, 0.0, 1.0)
    curved = np.where(shining <= 0.0031308, 12.92 * shining, 1.055 * shining ** (1 / 2.4) - 0.055)
    light = read_light(np.round(255 * curved).astype(np.uint8), head, pose, FOCAL_PX, CENTRE)
    assert off_deg(light, 45, 20) < 12.0
