import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.base.errors import UsageError
from sitwell.brief.comfort import LIMITS, Comfort, comfort_for

MOVES = ("turn_deg", "chin_deg", "tilt_deg", "chin_forward_mm", "camera_height_mm")


def test_the_usual_ranges_are_the_trades():
    """Common practice, no source."""
    comfort = Comfort()
    assert comfort.turn_deg == (-50.0, 50.0)
    assert comfort.chin_deg == (-12.0, 18.0)
    assert comfort.chin_forward_mm == (0.0, 35.0)


@given(st.lists(st.sampled_from(sorted(LIMITS)), max_size=5))
def test_limits_only_ever_narrow_and_order_does_not_widen(limits):
    comfort = comfort_for(limits)
    for move in MOVES:
        low, high = getattr(comfort, move)
        usual_low, usual_high = getattr(Comfort(), move)
        assert usual_low <= low <= high <= usual_high


def test_two_limits_that_exclude_each_other_leave_the_neutral():
    comfort = comfort_for(["no-chin-up", "no-chin-down"])
    assert comfort.chin_deg == (0.0, 0.0)


def test_a_seated_sitter_has_lower_eyes():
    assert comfort_for(["wheelchair"]).eyes_above_floor_mm < Comfort().eyes_above_floor_mm


def test_an_unknown_limit_lists_the_known_ones():
    with pytest.raises(UsageError, match="limit 'shy' is not known; choose from stiff-neck, "):
        comfort_for(["shy"])
