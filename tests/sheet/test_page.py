import json

from hypothesis import given, settings
from hypothesis import strategies as st

from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, GuardState, Leeway
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
    nose, _, forehead = section(content(), "What the wishes gain")
    assert nose["strong"] == "nose, length"
    assert nose["detail"] == "length, of brow to chin: 0.47 becomes 0.43 (clear)"
    assert forehead["detail"] == "forehead: 36 % becomes 33 % (just visible)"


def test_measures_of_one_wish_share_an_entry():
    sides = tuple(
        Gain(wish="ears", measure=f"ear_show_own_{side}", was=0.04, becomes=becomes, gain=gain)
        for side, becomes, gain in (("left", 0.0, 3.5), ("right", 0.05, -1.0))
    )
    (ears,) = section(content(gains=sides), "What the wishes gain")
    assert ears["strong"] == "ears"
    assert ears["detail"] == (
        "in view, own left: 4 % becomes 0 % (strong); "
        "in view, own right: 4 % becomes 5 % (against the wish)"
    )


def test_a_lost_guard_comes_first_and_those_that_hold_share_a_line():
    low = GuardState(
        name="nostrils",
        measure="nostril_show",
        value=0.02,
        limit=0.006,
        must_be="at most",
        holds=False,
    )
    entries = section(content(guards=(*GUARDS, low)), "What must hold")
    assert [entry["lost"] for entry in entries] == [True, True, False]
    assert entries[1]["detail"].endswith("2 %; must be at most 0.6 %")
    assert entries[2]["value"] == "nose stays inside the cheek, nostrils"


def test_reasons_of_the_leeway_are_shared_by_letter():
    rows = (
        Leeway(move="turn_deg", low=18, high=26, low_why="the ear shows", high_why=LOST),
        Leeway(move="key_azimuth_deg", low=-55, high=-30, low_why=LOST, high_why="the ear shows"),
    )
    found = leeway_content(rows, TYPICAL, reasons=True)
    assert [note["letter"] for note in found["notes"]] == ["a", "b"]
    turn, key = found["rows"]
    assert [(e["value"], e["note"]) for e in turn["ends"]] == [("18°", "a"), ("26°", "b")]
    assert turn["side"] == "own left"
    assert turn["aim"] == "aim for 22° own left"
    # Both ends at camera left: the smaller amount is said first, each with its own reason.
    assert [(e["value"], e["note"]) for e in key["ends"]] == [("30°", "a"), ("55°", "b")]


def test_a_fixed_move_has_one_end():
    row = Leeway(move="fill_ratio", low=3.0, high=3.0, low_why="", high_why="")
    (found,) = leeway_content((row,), TYPICAL, reasons=True)["rows"]
    assert [end["value"] for end in found["ends"]] == ["3:1"]


def test_many_reasons_run_on_past_z():
    rows = tuple(
        Leeway(move="turn_deg", low=-n, high=n, low_why=f"why {n}", high_why="")
        for n in range(1, 30)
    )
    letters = [n["letter"] for n in leeway_content(rows, TYPICAL, reasons=True)["notes"]]
    assert letters[25:28] == ["z", "aa", "ab"]
    assert len(set(letters)) == 29


def test_a_discreet_page_holds_no_wish_measure_guard_reason_or_gain():
    text = json.dumps(content(discreet=True), ensure_ascii=False)
    one = planned()
    told = [one.name, *one.notes, *(g.name for g in one.guards), *(r.sentence for r in one.reasons)]
    told += [row.low_why for row in one.leeway] + [row.high_why for row in one.leeway]
    told += ["becomes", "nose, length", "sliver", "What the wishes gain", "Why these moves", "held"]
    told += [c.sentence for c in plan().conflicts]
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
    assert page["leeway"]["rows"] == []


def test_a_gain_that_goes_against_the_wish_says_so():
    worse = Gain(wish="ears", measure="ear_sliver", was=0.0, becomes=0.4, gain=-2.0)
    (entry,) = section(content(gains=(worse,)), "What the wishes gain")
    assert entry["detail"].endswith("0 becomes 0.4 (against the wish)")


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
