"""What makes two set-ups different: design choices, so the tests hold to the words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene.setup import Setup
from sitwell.search.differences import lone_apart, lone_differences

setups = st.builds(
    Setup,
    turn_deg=st.floats(-50, 50),
    chin_deg=st.floats(-12, 18),
    tilt_deg=st.floats(-12, 12),
    camera_height_mm=st.floats(-450, 450),
    focal_mm=st.sampled_from([35.0, 50.0, 85.0, 135.0]),
    f_number=st.floats(1.4, 11),
    key_azimuth_deg=st.floats(-90, 90),
    key_elevation_deg=st.floats(0, 60),
    background_stops=st.floats(-4, 1),
    crop=st.sampled_from(["whole-head", "into-forehead"]),
)


@pytest.mark.parametrize(
    ("changes", "differs"),
    [
        ({"turn_deg": 7.0, "chin_deg": 4.0}, True),
        ({"turn_deg": 7.0}, False),
        ({"turn_deg": 14.0}, True),
        ({"chin_deg": 8.0}, True),
        ({"tilt_deg": 2.0, "key_elevation_deg": 40.0}, False),
        ({"focal_mm": 135.0}, False),
        ({"focal_mm": 135.0, "tilt_deg": 5.0}, True),
        ({"key_azimuth_deg": -35.0}, True),
        ({"key_azimuth_deg": -15.0}, False),
        ({"key_azimuth_deg": -15.0, "crop": "into-forehead"}, True),
        ({"camera_height_mm": 150.0, "key_azimuth_deg": -10.0}, True),
        ({"f_number": 11.0, "background_stops": -4.0, "fill_ratio": 8.0}, False),
        ({"key_size_mm": 450.0, "background_stops": -4.0}, True),
    ],
)
def test_two_differences_or_one_doubled_make_another_set_up(changes, differs):
    assert (lone_apart(Setup(), Setup().with_changes(**changes)) >= 1.0) == differs


def test_a_chin_lowered_before_a_lowered_camera_is_the_same_picture():
    level = Setup()
    both = level.with_changes(chin_deg=-4.8, camera_height_mm=-168.0)
    assert lone_differences(level, both)["chin"] < 0.05


@given(setups, setups)
def test_it_is_the_same_from_either_side_and_nothing_to_oneself(first, second):
    assert_allclose(lone_apart(first, second), lone_apart(second, first), atol=1e-9)
    assert_allclose(lone_apart(first, first), 0.0, atol=1e-6)
    assert 0.0 <= lone_apart(first, second) <= 1.0
