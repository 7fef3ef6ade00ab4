import pytest

from sitwell.base import units
from sitwell.base.units import (
    ask_for_units,
    distance_words,
    feet_from_mm,
    length_words,
    metres_from_mm,
    ratio_from_stops,
    small_words,
    stops_from_ratio,
    stops_words,
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


@pytest.fixture
def wants(monkeypatch):
    """Set what the reader wants: "metric", "imperial", or "" for both."""
    wanted = [""]
    monkeypatch.setattr(units, "_askers", [])
    ask_for_units(lambda: wanted[0])
    return lambda what: wanted.__setitem__(0, what)


@pytest.mark.parametrize(
    ("told", "value", "both", "metric", "imperial"),
    [
        (distance_words, -1800, "−1.80 m (−5 ft 11 in)", "−1.80 m", "−5 ft 11 in"),
        (distance_words, -203, "−0.20 m (−0 ft 8 in)", "−0.20 m", "−8 in"),
        (length_words, -350, "−35 cm (−14 in)", "−35 cm", "−14 in"),
        (length_words, -1800, "−1.80 m (−5 ft 11 in)", "−1.80 m", "−5 ft 11 in"),
        (small_words, -15, "−1.5 cm (−0.6 in)", "−1.5 cm", "−0.6 in"),
        (stops_words, -2.0, *3 * ["−2 stops"]),
        (stops_words, -1.0, *3 * ["−1 stops"]),
        (length_words, -0.2, "0 cm (0 in)", "0 cm", "0 in"),
    ],
)
def test_what_is_less_than_nothing_keeps_its_sign(wants, told, value, both, metric, imperial):
    for wanted, words in (("", both), ("metric", metric), ("imperial", imperial)):
        wants(wanted)
        assert told(value) == words


@pytest.mark.parametrize(
    ("told", "length_mm", "both", "metric", "imperial"),
    [
        (distance_words, 1800, "1.80 m (5 ft 11 in)", "1.80 m", "5 ft 11 in"),
        (length_words, 750, "75 cm (30 in)", "75 cm", "2 ft 6 in"),
        (length_words, 250, "25 cm (10 in)", "25 cm", "10 in"),
        (small_words, 15, "1.5 cm (0.6 in)", "1.5 cm", "0.6 in"),
    ],
)
def test_a_reader_who_chose_gets_one_of_the_two(wants, told, length_mm, both, metric, imperial):
    for wanted, words in (("", both), ("metric", metric), ("imperial", imperial)):
        wants(wanted)
        assert told(length_mm) == words
