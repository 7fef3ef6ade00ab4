import pytest

from sitwell.base.units import (
    distance_words,
    feet_from_mm,
    metres_from_mm,
    ratio_from_stops,
    stops_from_ratio,
)


def test_a_foot_is_304_8_mm():
    # International yard and pound agreement of 1959: 1 ft = 0.3048 m exactly.
    assert feet_from_mm(304.8) == 1.0
    assert metres_from_mm(304.8) == pytest.approx(0.3048)


def test_a_stop_doubles_the_light():
    assert stops_from_ratio(8) == 3
    assert ratio_from_stops(stops_from_ratio(5.0)) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("length_mm", "words"),
    [(1800, "1.80 m (5 ft 11 in)"), (3047, "3.05 m (10 ft 0 in)"), (304.8, "0.30 m (1 ft 0 in)")],
)
def test_distances_are_said_in_both_systems(length_mm, words):
    assert distance_words(length_mm) == words
