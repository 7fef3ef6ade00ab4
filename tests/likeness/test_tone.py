"""The sitter's tone: the likeness's middle of the face is as bright as it was photographed.

The measure is that of ``benchmarks/accuracy_tone.py``: cheeks and nose inside an outline of
landmarks, in photograph and likeness, and not the regions that the tool counts by.
"""

import dataclasses
import math

import numpy as np
import pytest
from PIL import Image

from benchmarks.accuracy_tone import MIDDLE, WHITE_Y, landmarks_in_picture, middle_of
from builders.pictures.plain_frames import painted
from sitwell.head.surface import build_head
from sitwell.likeness.likeness import likeness_of
from sitwell.scene.preview import Sculpture
from sitwell.scene.preview_light import MOST_EXPOSURE, exposure
from sitwell.scene.setup import Setup

from .sitting import SHAPE, setups, take

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
SIZE_PX = (360, 450)


@pytest.fixture(scope="module")
def head():
    return build_head(SHAPE)


@pytest.fixture(scope="module")
def plain(head):
    return Sculpture(head)


def photographed(frame):
    """Luminance (n,) of the middle of the face in a frame."""
    with Image.open(frame.path) as picture:
        rgb = np.asarray(picture)
    return middle_of(rgb, frame.face.landmarks_px[list(MIDDLE)]) @ WHITE_Y


def shown(likeness, plain, setup):
    """The same in the likeness in a set-up."""
    picture = likeness.picture(setup, *SIZE_PX).pixels
    return middle_of(picture, landmarks_in_picture(plain, setup, SIZE_PX)) @ WHITE_Y


def stops(first, second):
    return math.log2(float(np.mean(first)) / float(np.mean(second)))


@pytest.mark.parametrize("light", LIGHTS.values(), ids=LIGHTS)
@pytest.mark.parametrize("albedo", ALBEDOS.values(), ids=ALBEDOS)
def test_deep_middle_and_light_skin_keep_their_tone_in_every_light(
    tmp_path, head, plain, albedo, light
):
    reading = take(tmp_path, head, painted(head, albedo), setups((0.0,), **light))
    likeness, seen = likeness_of(reading, head), photographed(reading.frames[0])
    for changes in PLANS.values():
        setup = Setup(framing="tight-head", **changes)
        assert abs(stops(shown(likeness, plain, setup), seen)) < NEAR_STOPS


@pytest.mark.parametrize("turn_deg", [-25.0, 25.0])
def test_a_turned_face_keeps_its_tone_broad_and_short_lit(tmp_path, head, plain, turn_deg):
    reading = take(tmp_path, head, painted(head), setups((turn_deg,)))
    likeness, seen = likeness_of(reading, head), photographed(reading.frames[0])
    for azimuth_deg in (-35.0, 35.0):
        setup = Setup(turn_deg=turn_deg, key_azimuth_deg=azimuth_deg, framing="tight-head")
        assert abs(stops(shown(likeness, plain, setup), seen)) < 2 * NEAR_STOPS


@pytest.mark.parametrize("albedo", ALBEDOS.values(), ids=ALBEDOS)
def test_light_that_is_misread_lifts_nobody(tmp_path, head, plain, albedo):
    reading = take(tmp_path, head, painted(head, albedo), setups((0.0,), **LIGHTS["even"]))
    misread = dataclasses.replace(
        reading.frames[0].light, key_azimuth_deg=80.0, fill_ratio=10.0, key_share=0.9
    )
    frame = dataclasses.replace(reading.frames[0], light=misread)
    likeness = likeness_of(dataclasses.replace(reading, frames=(frame,)), head)
    setup = Setup(framing="tight-head", **LIGHTS["even"])
    assert abs(stops(shown(likeness, plain, setup), photographed(frame))) < NEAR_STOPS


def test_no_exposure_is_guessed_a_dark_frame_stays_dark_and_a_bright_one_bright(
    tmp_path, head, plain
):
    for factor in (0.1, 3.0):
        folder = tmp_path / f"{factor}"
        folder.mkdir()
        reading = take(folder, head, painted(head, factor), setups((0.0,)))
        picture = shown(likeness_of(reading, head), plain, setups((0.0,))[0])
        assert abs(stops(picture, photographed(reading.frames[0]))) < NEAR_STOPS


def test_black_and_white_stays_grey_and_as_bright(tmp_path, head, plain):
    reading = take(tmp_path, head, painted(head), setups((0.0,)))
    path = reading.frames[0].path
    with Image.open(path) as picture:
        grey = picture.convert("L").convert("RGB")
    grey.save(path)
    likeness, setup = likeness_of(reading, head), Setup(framing="tight-head")
    outline = landmarks_in_picture(plain, setup, SIZE_PX)
    middle = middle_of(likeness.picture(setup, *SIZE_PX).pixels, outline)
    assert np.ptp(middle, axis=1).max() < 0.01
    assert abs(stops(middle @ WHITE_Y, photographed(reading.frames[0]))) < NEAR_STOPS


def test_a_face_nearly_all_in_shade_stays_darker_and_its_rim_does_not_burn_out():
    assert exposure(np.full(4, 0.05), np.ones(4)) == MOST_EXPOSURE
    # means of lightness, the cube root of light: a little below those of light
    assert 1 / 0.6 < exposure(np.array([0.4, 0.8]), np.ones(2)) < 1.05 / 0.6
    assert exposure(np.array([0.4, 0.8]), np.array([0.0, 1.0])) == pytest.approx(1 / 0.8)
    assert exposure(np.array([0.4]), np.zeros(1)) == 1.0  # nothing of it in view
