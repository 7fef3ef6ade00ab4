import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene.setup import Setup
from sitwell.search.moves import MOVE_BY_NAME, MOVES, NOMINAL_F, choices_between, steps_between


def test_every_move_is_a_quantity_of_a_set_up():
    for move in MOVES:
        assert isinstance(getattr(Setup(), move.name), float)


@given(st.floats(1.0, 32.0))
def test_aperture_is_searched_in_stops_and_comes_back(f_number):
    move = MOVE_BY_NAME["f_number"]
    assert_allclose(move.value(move.coordinate(f_number)), f_number)
    assert_allclose(move.coordinate(2.0 * f_number) - move.coordinate(f_number), 2.0)


@given(st.sampled_from([m for m in MOVES if m.name != "f_number"]), st.floats(-50, 50))
def test_a_snapped_value_is_inside_and_no_more_than_half_a_grid_away(move, value):
    snapped = move.snapped(value, -40.0, 40.0)
    assert -40.0 <= snapped <= 40.0
    inside = min(max(value, -40.0), 40.0)
    assert abs(snapped - inside) <= move.grid / 2 + 1e-9


@pytest.mark.parametrize(
    ("wanted", "low", "high", "set_to"),
    [(2.7, 1.8, 16.0, 2.8), (1.0, 1.8, 16.0, 1.8), (5.4, 1.9, 16.0, 5.6), (2.0, 4.37, 16.0, 4.5)],
)
def test_an_aperture_is_one_that_the_lens_can_be_set_to(wanted, low, high, set_to):
    assert MOVE_BY_NAME["f_number"].snapped(wanted, low, high) == set_to
    assert set_to in NOMINAL_F


def test_steps_and_choices_between_set_ups():
    first = Setup()
    second = first.with_changes(turn_deg=14.0, f_number=8.0, focal_mm=50.0)
    steps = steps_between(first, second)
    assert_allclose([steps["turn_deg"], steps["f_number"], steps["chin_deg"]], [2.0, 2.0, 0.0])
    assert choices_between(first, second) == ("focal_mm",)
