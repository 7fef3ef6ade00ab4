import pytest

from sitwell.base.errors import WishError
from sitwell.brief.wishes import ASKED, DIRECTIONS, FEATURES, WAYS, Wish, parse_wish


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("ears", Wish(feature="ears")),
        ("eye-size:bring-out", Wish(feature="eye-size", direction="bring-out")),
        ("forehead:soften:3", Wish(feature="forehead", weight=3)),
        ("forehead::1", Wish(feature="forehead", weight=1)),
        ("eye-size:larger:3", Wish(feature="eye-size", direction="bring-out", weight=3)),
        ("face-width:wider", Wish(feature="face-width", direction="bring-out")),
        ("neck:less-seen:1", Wish(feature="neck", direction="soften", weight=1)),
        ("eye-size:leave", Wish(feature="eye-size", direction="leave")),
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


@pytest.mark.parametrize(
    ("feature", "direction"),
    # what a sitter means who names it (common practice, no source): their eyes larger, their ears
    # less seen, their nose shorter
    [("eye-size", "bring-out"), ("lively-eyes", "bring-out"), ("ears", "soften"),
     ("nose-length", "soften"), ("forehead", "soften"), ("eye-balance", "soften")],
)  # fmt: skip
def test_a_feature_alone_means_what_sitters_usually_mean(feature, direction):
    assert parse_wish(feature).direction == direction


@pytest.mark.parametrize(
    ("feature", "choices"),
    [
        ("face-width", "face-width:narrower or face-width:wider"),
        ("neck", "neck:less-seen or neck:more-seen"),
        ("smile", "smile:fuller-own-left or smile:fuller-own-right"),
    ],
)
def test_what_may_be_meant_either_way_is_asked(feature, choices):
    for text in (feature, f"{feature}::3"):
        with pytest.raises(
            WishError, match=f"^'{feature}' may be meant either way; write {choices}.$"
        ):
            parse_wish(text)


@pytest.mark.parametrize("feature", FEATURES)
def test_every_way_has_words_of_its_own_and_the_old_ones_stay(feature):
    assert WAYS[feature]
    for way in (*WAYS[feature], *DIRECTIONS):
        assert parse_wish(f"{feature}:{way}:1").feature == feature
    assert len(WAYS[feature]) > 1 or feature not in ASKED


def test_the_fuller_side_of_a_smile_is_the_sitters_own():
    assert parse_wish("smile:fuller-own-left").fuller_side == "own_left"
    assert parse_wish("smile:fuller-own-right:3").fuller_side == "own_right"
    assert parse_wish("smile:soften").fuller_side == ""
    with pytest.raises(WishError, match="direction 'fuller-own-left' is not known"):
        parse_wish("ears:fuller-own-left")
