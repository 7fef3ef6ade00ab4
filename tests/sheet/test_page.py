import json

from hypothesis import given, settings
from hypothesis import strategies as st

from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, GuardState, Leeway
from sitwell.search.sentences import END_OF_RANGE
from sitwell.sheet.page import LONGEST_ENTRY, leeway_content, page_content, shortened
from sitwell.sheet.settings import Setting

from .samples import GUARDS, LOST, TYPICAL, plan, planned


def content(one=None, *, discreet=False, sitter="", **changes):
    one = one or planned(**changes)
    return page_content(one, plan(one), paper="a4", discreet=discreet, sitter=sitter)


def section(page, heading):
    (found,) = [s["entries"] for s in page["fine"] if s["heading"] == heading]
    return found


def test_a_gain_is_said_as_was_and_becomes_in_plain_words():
    ears, nose, forehead = section(content(), "What the wishes gain")
    assert (nose["strong"], nose["value"]) == ("nose, its length", "clear")
    assert nose["detail"] == "length, of brow to chin: 47 % becomes 43 %"
    assert forehead["detail"] == "forehead: 36 % becomes 33 %"
    assert ears["value"] == "strong"


def test_a_wish_is_told_by_the_measure_that_tells_most_of_it():
    sides = tuple(
        Gain(wish="ears", measure=f"ear_show_own_{side}", was=0.04, becomes=becomes, gain=gain)
        for side, becomes, gain in (("right", 0.05, -1.0), ("left", 0.0, 3.5))
    )
    (ears,) = section(content(gains=sides), "What the wishes gain")
    assert (ears["strong"], ears["value"]) == ("ears", "strong")
    assert ears["detail"] == "how much of the ear shows, sitter’s own left: 4 % becomes 0 %"


def test_no_more_than_three_gains_are_told_the_largest_first():
    many = tuple(
        Gain(wish=wish, measure="forehead_share", was=0.3, becomes=0.2, gain=gain)
        for wish, gain in (("jaw", 0.4), ("neck", -2.0), ("ears", 1.0), ("skin", 3.0))
    )
    told = section(content(gains=many), "What the wishes gain")
    assert [entry["strong"] for entry in told] == ["skin", "neck", "ears"]
    assert told[1]["value"] == "against the wish"


def test_only_guards_that_do_not_hold_are_told():
    low = GuardState(
        name="nostrils",
        measure="nostril_show",
        value=0.02,
        limit=0.006,
        must_be="at most",
        holds=False,
    )
    entries = section(content(guards=(*GUARDS, low)), "What does not hold")
    assert [entry["lost"] for entry in entries] == [True, True]
    assert entries[1]["detail"].endswith("2 %; must be at most 0.6 %")


def test_the_nearer_end_of_a_leeway_says_what_would_go_wrong_past_it():
    rows = (
        Leeway(move="turn_deg", low=20, high=26, low_why="the ear shows", high_why="the nose"),
        Leeway(move="key_azimuth_deg", low=-55, high=-30, low_why="far", high_why="the ear shows"),
        Leeway(move="chin_deg", low=6, high=10, low_why=LOST, high_why="the nostrils"),
    )
    turn, key, chin = leeway_content(rows, TYPICAL, reasons=True)
    assert (turn["range"], turn["side"]) == ("20° to 26°", "own left")
    assert turn["aim"] == "aim for 22° own left"
    assert turn["why"] == "under 20° own left: the ear shows"
    # Both ends at camera left: the smaller amount is said first.
    assert key["range"] == "30° to 55°"
    assert key["why"] == "under 30° camera left: the ear shows"
    level = Leeway(move="chin_deg", low=-2, high=9, low_why="the chin", high_why="the nostrils")
    (level_chin,) = leeway_content((level,), Setup(), reasons=True)
    assert level_chin["why"] == "past 2° down: the chin"
    assert chin["why"] == ""  # a little less of the gain is no news
    assert not any(row["why"] for row in leeway_content(rows, TYPICAL, reasons=False))


def test_what_is_free_is_not_listed():
    ends = {"low_why": tr(END_OF_RANGE), "high_why": tr(END_OF_RANGE)}
    free = Leeway(move="f_number", low=1.8, high=8.0, **ends)
    held = Leeway(move="chin_deg", low=-2.0, high=1.0, low_why=LOST, high_why=tr(END_OF_RANGE))
    assert [row["name"] for row in leeway_content((free, held), TYPICAL, reasons=True)] == ["chin"]


def test_a_fixed_move_has_one_end():
    row = Leeway(move="fill_ratio", low=3.0, high=3.0, low_why="", high_why="")
    (found,) = leeway_content((row,), TYPICAL, reasons=True)
    assert found["range"] == "3:1"


def test_a_discreet_page_holds_no_wish_measure_guard_reason_or_gain():
    text = json.dumps(content(discreet=True), ensure_ascii=False)
    one = planned()
    told = [one.name, *one.notes, *(g.name for g in one.guards), *(r.sentence for r in one.reasons)]
    told += [row.low_why for row in one.leeway] + [row.high_why for row in one.leeway]
    told += [
        "becomes",
        "nose, its length",
        "sliver",
        "What the wishes gain",
        "not hold",
        "ear is gone",
    ]
    for words in told:
        assert words not in text, words
    assert "18°" in text
    assert "Point your nose at the mark on your left." in text


def test_a_discreet_title_is_a_number():
    one, two = planned(name="nose-length, strong"), planned(Setup(), name="ears, gentle")
    page = page_content(two, plan(one, two), paper="a4", discreet=True, sitter="")
    assert page["title"] == "Set-up 2"
    assert page_content(one, plan(two), paper="a4", discreet=True, sitter="")["title"] == "Set-up"


def test_one_word_becomes_a_title():
    assert content(name="gentle")["title"] == "Gentle set-up"
    assert content(name="short light from the window")["title"] == "Short light from the window"
    assert content(name="")["title"] == "Set-up"


@settings(max_examples=50)
@given(text=st.text(max_size=400), longest=st.integers(1, 300))
def test_text_is_shortened_to_one_line(text, longest):
    short = shortened(text, longest)
    assert len(short) <= longest
    assert "\n" not in short


def test_empty_parts_have_no_heading():
    bare = planned(gains=(), guards=(), reasons=(), leeway=(), notes=())
    page = page_content(bare, plan(bare, conflicts=()), paper="a4", discreet=False, sitter="")
    assert [s["heading"] for s in page["fine"]] == ["Care"]
    assert page["leeway"] == []


def test_a_gain_that_goes_against_the_wish_says_so():
    worse = Gain(wish="ears", measure="ear_sliver", was=0.0, becomes=0.4, gain=-2.0)
    (entry,) = section(content(gains=(worse,)), "What the wishes gain")
    assert entry["detail"].endswith("0 % becomes 40 %")
    assert entry["value"] == "against the wish"


def test_an_endless_sentence_is_cut():
    page = content(notes=("word " * 500,))
    (entry,) = section(page, "Good to know")
    assert len(entry["detail"]) <= LONGEST_ENTRY


def test_more_settings_follow_the_studios_own():
    one = planned()
    more = (Setting(name="Exposure", value="f/4, ISO 200, 1/160 s"),)
    plain, longer = (
        page_content(one, plan(one), paper="a4", discreet=False, sitter="", more=added)["settings"]
        for added in ((), more)
    )
    assert longer[:-1] == plain
    assert longer[-1] == {"name": "Exposure", "value": "f/4, ISO 200, 1/160 s", "note": ""}
