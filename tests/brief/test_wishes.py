import pytest

from sitwell.base.errors import WishError
from sitwell.brief.wishes import Wish, parse_wish


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("ears", Wish(feature="ears")),
        ("eye-size:bring-out", Wish(feature="eye-size", direction="bring-out")),
        ("forehead:soften:3", Wish(feature="forehead", weight=3)),
        ("forehead::1", Wish(feature="forehead", weight=1)),
    ],
)
def test_wishes_are_read(text, wish):
    assert parse_wish(text) == wish


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("elbows", "feature 'elbows' is not known; choose one of forehead, "),
        ("ears:hide", "direction 'hide' is not known; choose one of soften, bring-out, leave"),
        ("ears:soften:9", "weight '9' in the wish 'ears:soften:9' is not 1, 2 or 3"),
        ("ears:soften:1:2", "too many parts; write FEATURE:DIRECTION:WEIGHT"),
    ],
)
def test_an_unknown_wish_is_refused_with_what_can_be_asked(text, message):
    with pytest.raises(WishError, match=message):
        parse_wish(text)
