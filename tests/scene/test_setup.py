import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import SetupError
from sitwell.scene.setup import Setup


def test_the_lens_stands_at_its_distance_and_height():
    lens_mm = Setup(distance_mm=1500, camera_height_mm=-300).lens_mm()
    assert_allclose(lens_mm[1], -300)
    assert_allclose((lens_mm**2).sum(), 1500**2)
    assert lens_mm[2] > 0


def test_a_lower_lens_sees_a_raised_chin():
    _, chin_deg, _ = Setup(camera_height_mm=-300, distance_mm=1500).seen_pose_deg()
    assert_allclose(chin_deg, 11.537, atol=1e-3)  # asin(300 / 1500)


def test_a_face_that_a_turn_carries_aside_is_seen_turned_farther():
    # about a pivot 100 mm behind the eyes they come to lie at (100 sin t, 100 cos t - 100)
    turn = math.radians(24.0)
    aside_mm, back_mm = 100.0 * math.sin(turn), 100.0 * (1.0 - math.cos(turn))
    sight_deg = math.degrees(math.atan2(aside_mm, 1000.0 + back_mm))
    setup = Setup(turn_deg=24.0, distance_mm=1000.0)
    seen = setup.seen_pose_deg(np.array([0.0, 0.0, -100.0]))
    assert_allclose(seen, (24.0 + sight_deg, 0.0, 0.0), atol=1e-9)
    assert_allclose(setup.seen_pose_deg(), (24.0, 0.0, 0.0), atol=1e-9)


@pytest.mark.parametrize(
    "name",
    [
        "distance_mm",
        "focal_mm",
        "f_number",
        "key_distance_mm",
        "key_size_mm",
        "rim_distance_mm",
        "rim_size_mm",
        "background_light_distance_mm",
    ],
)
def test_a_length_of_nothing_is_refused(name):
    with pytest.raises(SetupError, match=f"{name} is 0; give a value above zero"):
        Setup(**{name: 0.0})


def test_a_camera_higher_than_it_is_far_is_refused():
    with pytest.raises(SetupError, match="camera_height_mm 2500 can't reach past distance_mm 2000"):
        Setup(camera_height_mm=2500)


def test_more_fill_than_light_is_refused():
    with pytest.raises(SetupError, match=r"fill_ratio is 0.5; .* give 1 \(no shade\) or more"):
        Setup(fill_ratio=0.5)


@pytest.mark.parametrize(
    ("name", "bad", "good"),
    [
        ("framing", "bust", "head-and-shoulders"),
        ("crop", "half", "into-forehead"),
        ("aspect", "4:7", "4:5"),
        ("gaze", "left", "ahead"),
        ("rim", "yes", "on"),
        ("background_light", "maybe", "off"),
    ],
)
def test_an_unknown_word_is_refused_with_the_known_ones(name, bad, good):
    with pytest.raises(SetupError, match=f"The {name} '{bad}' is not known.*{good}"):
        Setup(**{name: bad})


@pytest.mark.parametrize("azimuth_deg", [0, 99, -60, 181, math.nan])
def test_a_rim_light_in_front_is_refused(azimuth_deg):
    with pytest.raises(SetupError, match=r"rim_azimuth_deg is .*; a rim light stands behind"):
        Setup(rim_azimuth_deg=azimuth_deg)


def test_as_dict_carries_the_seen_pose_beside_the_quantities():
    row = Setup(turn_deg=10).as_dict()
    assert row["turn_deg"] == 10
    assert_allclose(row["seen_turn_deg"], 10)
