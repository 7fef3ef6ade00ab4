"""The sitter's tone: the preview's middle of the face is as bright as it was photographed.

The measure is that of ``benchmarks/accuracy_tone.py``: cheeks and nose inside an outline of
landmarks, in photograph and preview, and not the regions that the tool counts by.
"""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from benchmarks.accuracy_tone import MIDDLE, WHITE_Y, middle_of, preview_landmarks
from sitwell.head.surface import build_head
from sitwell.scene.preview import Sculpture
from sitwell.scene.preview_light import MOST_EXPOSURE, exposure
from sitwell.scene.setup import Setup
from sitwell.scene.skin_cover import cover
from sitwell.scene.skin_merge import skin_from_frames

from .sitting import SHAPE, exposed, painted, setups, take

ALBEDOS = {"deep": 0.12, "middle": 0.5, "light": 2.0}  # of the invented brown
LIGHTS = {
    "even": {"key_azimuth_deg": 0.0, "fill_ratio": 1.3},
    "hard": {"key_azimuth_deg": 60.0, "key_size_mm": 200.0, "fill_ratio": 6.0},
}
PLANS = {
    "usual": {},
    "even": LIGHTS["even"],
    "other-side": {"key_azimuth_deg": -45.0},
    "hard": {"key_azimuth_deg": 50.0, "key_size_mm": 200.0, "fill_ratio": 6.0},
}
NEAR_STOPS = 0.2
SIZE_PX = (480, 600)


@pytest.fixture(scope="module")
def head():
    return build_head(SHAPE)


@pytest.fixture(scope="module")
def brown(head):
    return painted(head)


def photographed(frame):
    """Luminance (n,) of the middle of the face in a frame."""
    with Image.open(frame.path) as picture:
        rgb = np.asarray(picture)
    return middle_of(rgb, frame.face.landmarks_px[list(MIDDLE)]) @ WHITE_Y


def previewed(head, skin, setup):
    """The same in the preview of a set-up."""
    sculpture = Sculpture(head, skin)
    picture = sculpture.render(setup, *SIZE_PX)
    return middle_of(picture, preview_landmarks(sculpture, setup, head)) @ WHITE_Y


def stops(first, second):
    return math.log2(float(np.mean(first)) / float(np.mean(second)))


@pytest.mark.parametrize("light", LIGHTS.values(), ids=LIGHTS)
@pytest.mark.parametrize("albedo", ALBEDOS.values(), ids=ALBEDOS)
def test_deep_middle_and_light_skin_keep_their_tone_in_every_light(
    tmp_path, head, brown, albedo, light
):
    sitter = exposed(brown, albedo)
    reading = take(tmp_path, head, sitter, setups((0.0,), **light))
    skin, seen = skin_from_frames(reading), photographed(reading.frames[0])
    for changes in PLANS.values():
        shown = previewed(head, skin, Setup(framing="tight-head", **changes))
        assert abs(stops(shown, seen)) < NEAR_STOPS


@pytest.mark.parametrize("turn_deg", [-25.0, 25.0])
def test_a_turned_face_keeps_its_tone_broad_and_short_lit(tmp_path, head, brown, turn_deg):
    reading = take(tmp_path, head, brown, setups((turn_deg,)))
    skin, seen = skin_from_frames(reading), photographed(reading.frames[0])
    for azimuth_deg in (-35.0, 35.0):
        setup = Setup(turn_deg=turn_deg, key_azimuth_deg=azimuth_deg, framing="tight-head")
        assert abs(stops(previewed(head, skin, setup), seen)) < 2 * NEAR_STOPS


@pytest.mark.parametrize("albedo", ALBEDOS.values(), ids=ALBEDOS)
def test_light_that_is_misread_lifts_nobody(tmp_path, head, brown, albedo):
    sitter = exposed(brown, albedo)
    reading = take(tmp_path, head, sitter, setups((0.0,), **LIGHTS["even"]))
    misread = dataclasses.replace(
        reading.frames[0].light, key_azimuth_deg=80.0, fill_ratio=10.0, key_share=0.9
    )
    frame = dataclasses.replace(reading.frames[0], light=misread)
    skin = skin_from_frames(dataclasses.replace(reading, frames=(frame,)))
    shown = previewed(head, skin, Setup(framing="tight-head", **LIGHTS["even"]))
    assert abs(stops(shown, photographed(frame))) < NEAR_STOPS


def test_no_exposure_is_guessed_a_dark_frame_stays_dark_and_a_bright_one_bright(
    tmp_path, head, brown
):
    for factor in (0.1, 3.0):
        folder = tmp_path / f"{factor}"
        folder.mkdir()
        reading = take(folder, head, exposed(brown, factor), setups((0.0,)))
        shown = previewed(head, skin_from_frames(reading), setups((0.0,))[0])
        assert abs(stops(shown, photographed(reading.frames[0]))) < NEAR_STOPS


def test_of_frames_exposed_unlike_the_middle_one_tells_the_tone(tmp_path, head, brown):
    frames = []
    for index, factor in enumerate((1.0, 0.3, 1.1)):
        folder = tmp_path / f"{index}"
        folder.mkdir()
        reading = take(folder, head, exposed(brown, factor), setups((0.0,)))
        frames.append(dataclasses.replace(reading.frames[0], file=f"frame-{index}.png"))
    fit = dataclasses.replace(reading.fit, frames=tuple(frame.fitted for frame in frames))
    skin = skin_from_frames(dataclasses.replace(reading, frames=tuple(frames), fit=fit))
    shown = previewed(head, skin, setups((0.0,))[0])
    assert abs(stops(shown, photographed(frames[0]))) < NEAR_STOPS


def test_black_and_white_stays_grey_and_as_bright(tmp_path, head, brown):
    reading = take(tmp_path, head, brown, setups((0.0,)))
    path = reading.frames[0].path
    with Image.open(path) as picture:
        grey = picture.convert("L").convert("RGB")
    grey.save(path)
    skin = skin_from_frames(reading)
    assert_allclose(np.ptp(skin.paint.texels[:, :3], axis=1), 0.0, atol=1e-4)
    shown = previewed(head, skin, Setup(framing="tight-head"))
    assert abs(stops(shown, photographed(reading.frames[0]))) < NEAR_STOPS


@pytest.mark.parametrize("albedo", ALBEDOS.values(), ids=ALBEDOS)
def test_what_no_frame_saw_has_the_colour_of_that_skin(tmp_path, head, brown, albedo):
    skin = skin_from_frames(take(tmp_path, head, exposed(brown, albedo), setups((0.0,))))
    colour, known = skin.paint.texels[:, :3].astype(float), skin.paint.texels[:, 3]
    middle = colour[cover(head).middle & (known > 0.9)]
    assert_allclose(np.median(colour[known == 0.0], axis=0), np.median(middle, axis=0), rtol=0.1)


def test_a_face_nearly_all_in_shade_stays_darker_and_its_rim_does_not_burn_out():
    assert exposure(np.full(4, 0.05), np.ones(4)) == MOST_EXPOSURE
    # means of lightness, the cube root of light: a little below those of light
    assert 1 / 0.6 < exposure(np.array([0.4, 0.8]), np.ones(2)) < 1.05 / 0.6
    assert exposure(np.array([0.4, 0.8]), np.array([0.0, 1.0])) == pytest.approx(1 / 0.8)
    assert exposure(np.array([0.4]), np.zeros(1)) == 1.0  # nothing of it in view
