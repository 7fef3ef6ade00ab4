import pytest

from sitwell.base.errors import UsageError
from sitwell.search.locks import parse_locks


def test_locks_are_read_as_numbers_or_words():
    assert parse_locks(["turn_deg=-10", "crop=whole-head"]) == {
        "turn_deg": -10.0,
        "crop": "whole-head",
    }


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("turn=10", "lock 'turn=10' can't be held; write NAME=VALUE with one of turn_deg, "),
        ("turn_deg", "lock 'turn_deg' can't be held"),
        ("f_number=0", "can't be held: f_number is 0; give a number from 0.5 to 64."),
        ("turn_deg=999", "can't be held: turn_deg is 999; give a number from -90 to 90."),
        ("turn_deg=NaN", "can't be held: turn_deg is nan; give a number from -90 to 90."),
        ("distance_mm=inf", "can't be held: distance_mm is inf; give a number from 200"),
        ("crop=round", "can't be held: The crop 'round' is not known; choose one of whole-head"),
        ("turn_deg=far", "lock 'turn_deg=far' needs a number"),
    ],
)
def test_a_lock_that_means_nothing_is_refused(text, message):
    with pytest.raises(UsageError, match=message):
        parse_locks([text])
