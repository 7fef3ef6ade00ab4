"""The light's name follows what the key does on a head, wherever head and key stand.

What each pattern is called is common practice, no source.
"""

import pytest

from sitwell.head.surface import build_head
from sitwell.scene.light_pattern import light_breadth, light_pattern
from sitwell.scene.measures import measure
from sitwell.scene.setup import Setup

HARD = Setup(key_size_mm=400.0, fill_ratio=5.0)


@pytest.fixture(scope="module")
def head():
    return build_head()


def named(head, **changes):
    setup = HARD.with_changes(**changes)
    return light_pattern(measure(head, setup), setup.fill_ratio)


@pytest.mark.parametrize(
    ("azimuth_deg", "elevation_deg", "pattern"),
    [(0, 55, "butterfly"), (25, 40, "loop"), (48, 40, "Rembrandt"), (90, 10, "split")],
)
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_key_brought_round_draws_the_patterns_in_their_order(
    head, side, azimuth_deg, elevation_deg, pattern
):
    key = {"key_azimuth_deg": side * azimuth_deg, "key_elevation_deg": elevation_deg}
    assert named(head, **key) == pattern


def test_it_is_the_shadow_that_counts_and_not_where_the_key_stands(head):
    # the face turned to a key far aside has it in front, and the shadow under its nose
    assert named(head, key_azimuth_deg=45.0, key_elevation_deg=50.0) != "butterfly"
    turned = named(head, turn_deg=45.0, key_azimuth_deg=45.0, key_elevation_deg=50.0)
    assert turned == "butterfly"


def test_light_without_shadow_has_no_name(head):
    assert named(head, key_azimuth_deg=48.0, fill_ratio=1.2) == ""
    assert named(head, key_azimuth_deg=0.0, key_elevation_deg=5.0) == ""
    assert light_pattern({}, 3.0) == ""
    assert light_breadth({}) == ""


@pytest.mark.parametrize(("turn_deg", "breadth"), [(30.0, "short"), (-30.0, "broad"), (0.0, "")])
def test_short_light_falls_on_the_far_side(head, turn_deg, breadth):
    # turned to the own left, the own left cheek is the far one; the key stands on its side
    setup = HARD.with_changes(turn_deg=turn_deg, key_azimuth_deg=55.0)
    assert light_breadth(measure(head, setup)) == breadth
