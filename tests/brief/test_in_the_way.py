"""What is in the way is one of the known things, or refused by name."""

import pytest

from sitwell.base.errors import UsageError
from sitwell.brief.in_the_way import NOTHING, THINGS, check_in_the_way, check_without


def test_known_things_are_taken_once():
    assert check_in_the_way(["beard", "glasses", "beard"]) == {"beard", "glasses"}
    assert check_in_the_way(THINGS) == set(THINGS)
    assert check_in_the_way([]) == frozenset()


def test_an_unknown_thing_is_refused_by_name():
    with pytest.raises(UsageError, match="'scarf' is nothing Sitwell knows to be in the way; choo"):
        check_in_the_way(["glasses", "scarf"])


def test_nothing_in_the_way_is_told_alone():
    assert check_in_the_way([NOTHING]) == frozenset()
    with pytest.raises(UsageError, match="'nothing' can't be in the way beside something; give"):
        check_in_the_way(["hat", NOTHING])


def test_a_thing_is_denied_by_name_unless_it_was_told():
    assert check_without(["hat", "hat"], frozenset({"beard"})) == {"hat"}
    assert check_without([], frozenset()) == frozenset()
    with pytest.raises(UsageError, match="'scarf' is nothing Sitwell knows to be in the way; choo"):
        check_without(["scarf"], frozenset())
    with pytest.raises(UsageError, match="'nothing' is nothing Sitwell knows to be in the way"):
        check_without([NOTHING], frozenset())
    words = "'hat' is told to be in the way and not to be there; leave out one of the two."
    with pytest.raises(UsageError, match=words):
        check_without(["hat"], frozenset({"hat"}))
