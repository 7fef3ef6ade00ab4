"""Lengths in the reader's units, every text in every language, marks as they are dragged."""

import pytest

from sitwell.base.words import languages
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, GuardState
from sitwell.ui.web import names
from sitwell.ui.web.kit_page import as_number, typed_lens
from sitwell.ui.web.paper import FrameNote
from sitwell.ui.web.read_page import placed_marks, put_mark
from sitwell.ui.web.wording import LANGUAGES, length, preferences_from, speak


@pytest.mark.parametrize(
    ("mm", "metric", "imperial"),
    [
        (1800.0, "1.80 m", "5 ft 11 in"),
        (350.0, "35 cm", "14 in"),
        (-40.0, "−4 cm", "−2 in"),
        (0.0, "0 cm", "0 in"),
        (304.8 * 3, "91 cm", "3 ft 0 in"),
    ],
)
def test_lengths(mm, metric, imperial):
    assert length(mm, "metric") == metric
    assert length(mm, "imperial") == imperial


def test_the_pages_offer_every_language_that_can_be_spoken():
    assert tuple(LANGUAGES) == languages()


def test_an_unknown_language_is_spoken_to_in_english():
    assert speak("Plan", "fr") == "Plan"


@pytest.mark.parametrize(
    ("cookies", "accepts", "language", "units"),
    [
        ({}, "de-AT,de;q=0.9", "de", "metric"),
        ({}, "fr", "en", "metric"),
        ({"sitwell_language": "en", "sitwell_units": "imperial"}, "de", "en", "imperial"),
        ({"sitwell_language": "<script>", "sitwell_units": "ells"}, "", "en", "metric"),
    ],
)
def test_a_browsers_wishes_are_heard(cookies, accepts, language, units):
    chosen = preferences_from(cookies, accepts)
    assert (chosen.language, chosen.units) == (language, units)


@pytest.mark.parametrize(
    ("move", "value", "words"),
    [
        ("turn_deg", 12.0, "12° to their left"),
        ("turn_deg", -12.0, "12° to their right"),
        ("turn_deg", 0.4, "straight on"),
        ("chin_deg", -3.0, "3° down"),
        ("key_azimuth_deg", -40.0, "40° camera left"),
        ("camera_height_mm", -120.0, "12 cm below the eyes"),
        ("f_number", 2.8, "f/2.8"),
        ("fill_ratio", 3.0, "3 : 1"),
        ("background_stops", -1.5, "1.5 stops darker"),
    ],
)
def test_a_value_carries_its_side(move, value, words):
    assert names.value_words(move, value) == words


def test_a_pose_leaves_out_what_is_not_moved():
    assert names.pose_words(Setup()) == "Straight on, level"
    assert names.pose_words(Setup(turn_deg=-15, chin_deg=3)) == (
        "Turn 15° to their right, Chin 3° up"
    )


def test_the_strongest_change_speaks_for_a_wish():
    weak = Gain(wish="ears", measure="ear_sliver", was=1, becomes=1, gain=0.2)
    loss = Gain(wish="ears", measure="ear_out_own_left", was=1, becomes=2, gain=-1.4)
    assert names.best_gains([weak, loss]) == {"ears": loss}
    assert names.is_against(loss)
    assert not names.is_against(weak)


def test_a_lost_guard_says_where_it_stands():
    guard = GuardState(
        name="far ear",
        measure="nostril_show",
        value=0.02,
        limit=0.01,
        must_be="at most",
        holds=False,
    )
    assert names.guard_detail(guard) == "2 %; at most 1 %"


def frame():
    return FrameNote(id="0123abcd", file="a.jpg", name="a.jpg")


def test_a_point_is_put_moved_and_taken_away():
    note = frame()
    put_mark(note, "chin", {"x": 10, "y": 20})
    put_mark(note, "chin", {"x": 11, "y": 20})
    assert note.marks == {"chin": [11.0, 20.0]}
    put_mark(note, "chin", {"away": True})
    assert note.marks == {}


def test_a_line_takes_many_points_each_its_own():
    note = frame()
    for y in (1, 2, 3):
        put_mark(note, "nose_ridge", {"x": 0, "y": y})
    put_mark(note, "nose_ridge:1", {"x": 5, "y": 5})
    put_mark(note, "nose_ridge:0", {"away": True})
    assert note.marks == {"nose_ridge": [[5.0, 5.0], [0.0, 3.0]]}
    assert [mark["id"] for mark in placed_marks(note)] == ["nose_ridge:0", "nose_ridge:1"]


@pytest.mark.parametrize(
    ("focal", "widest", "ends"),
    [("85", "1.8", (85, 85)), ("24-70", "f/2,8", (24, 70)), ("24–70", "2.8", (24, 70))],
)
def test_a_lens_is_read_as_people_write_it(focal, widest, ends):
    assert typed_lens(focal, widest).focal_mm == ends


@pytest.mark.parametrize(
    ("focal", "widest"), [("", "1.8"), ("85", ""), ("70-24", "2.8"), ("a", "b"), ("1-2-3", "4")]
)
def test_what_makes_no_lens_makes_none(focal, widest):
    assert typed_lens(focal, widest) is None


def test_a_number_may_have_a_comma():
    assert as_number(" 2,5 ") == 2.5
