import dataclasses
from itertools import groupby

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.shoot.check import check_frame
from sitwell.shoot.drift import BANDS, drifts_of
from sitwell.shoot.nudge import Nudger

from .planned import EXPECTED, PLANNED, SETUP, sight

MOVES = ("turn_deg", "chin_deg", "tilt_deg", "key_azimuth_deg")


def nudge(nudger, **moves):
    whole = {move: getattr(SETUP, move) for move in MOVES} | moves
    return nudger.next(check_frame("f.jpg", sight(moves=whole), EXPECTED))


def test_all_within_the_leeway_needs_no_word():
    assert nudge(Nudger()) is None


@pytest.mark.parametrize(
    ("moves", "about", "words"),
    [
        ({"turn_deg": 8.0}, "turn_deg", "toward your left shoulder"),
        ({"turn_deg": 34.0}, "turn_deg", "toward your right shoulder"),
        ({"chin_deg": -9.0}, "chin_deg", "Your chin up"),
        ({"key_azimuth_deg": -20.0}, "key_azimuth_deg", "toward camera right"),
    ],
)
def test_the_words_lead_back_to_the_plan(moves, about, words):
    said = nudge(Nudger(), **moves)
    assert said.about == about
    assert words in said.sentence


def test_of_two_drifts_the_one_that_carries_more_of_the_gain_is_said():
    # one band outside the leeway each; the turn carries three quarters of the gain
    assert nudge(Nudger(), turn_deg=14.0, chin_deg=-2.0).about == "turn_deg"


def test_a_need_is_one_a_band_outside_the_leeway_and_a_half_a_band_inside():
    def need(turn_deg):
        return drifts_of(sight(moves={"turn_deg": turn_deg}), PLANNED)[0].need

    assert need(25.0 + BANDS["turn_deg"]) == pytest.approx(1.0)
    assert need(25.0 - BANDS["turn_deg"]) == pytest.approx(0.5)
    assert need(17.0 - BANDS["turn_deg"]) == pytest.approx(1.0)


def test_a_nudge_stays_until_the_move_is_well_inside_again():
    nudger = Nudger()
    first = nudge(nudger, turn_deg=14.5)
    assert nudge(nudger, turn_deg=16.5) is first  # between the two edges: the same words
    assert nudge(nudger, turn_deg=19.5) is None
    assert nudge(nudger, turn_deg=16.5) is None  # and on the way out they do not come yet


def test_closed_eyes_go_before_any_move():
    shut = check_frame(
        "f.jpg", sight(eye_open={"own_left": 0.0}, moves={"turn_deg": 0.0}), EXPECTED
    )
    assert Nudger().next(shut).sentence == "One more, eyes to the lens."


def test_what_no_move_mends_is_said_when_every_move_is_in_place():
    nudger = Nudger()
    burnt = sight(skin_clipped=0.2, moves={"turn_deg": 0.0})
    assert nudger.next(check_frame("f.jpg", burnt, EXPECTED)).about == "turn_deg"
    burnt = sight(skin_clipped=0.2)
    assert nudger.next(check_frame("f.jpg", burnt, EXPECTED)).sentence == "A little less exposure."


def test_the_words_are_safe_for_the_sitter_to_see():
    for word in ("ear", "nose reaches", "%", "sliver"):
        said = Nudger().next(check_frame("f.jpg", sight(measures={"ear_sliver": 1.0}), EXPECTED))
        assert word not in said.sentence


@given(
    st.fixed_dictionaries({m: st.floats(-40, 60) for m in MOVES}),
    st.lists(st.tuples(*[st.floats(-0.999, 0.999)] * len(MOVES)), min_size=2, max_size=30),
)
def test_noise_smaller_than_the_bands_never_brings_words_back(still, noise):
    nudger = Nudger()
    said = []
    for row in noise:
        moves = {m: still[m] + n * BANDS[m] for m, n in zip(MOVES, row, strict=True)}
        words = nudge(nudger, **moves)
        said.append(words.sentence if words else "")
    runs = [words for words, _ in groupby(said)]
    assert len(runs) == len(set(runs))


@given(st.floats(-40, 60), st.lists(st.floats(-0.999, 0.999), min_size=2, max_size=30))
def test_noise_on_one_move_changes_the_words_at_most_once(still, noise):
    nudger = Nudger()
    said = [nudge(nudger, turn_deg=still + n * BANDS["turn_deg"]) for n in noise]
    assert len(list(groupby(said))) <= 2


SUNNY = dataclasses.replace(EXPECTED, planned=dataclasses.replace(PLANNED, light="sun"))


def test_the_sun_is_gone_round_and_never_raised():
    def nudged(**moves):
        whole = {move: getattr(SETUP, move) for move in MOVES} | moves
        return Nudger().next(check_frame("f.jpg", sight(moves=whole), SUNNY))

    assert "Go round the sitter" in nudged(key_azimuth_deg=-20.0).sentence
    assert nudged(key_elevation_deg=SETUP.key_elevation_deg + 40.0) is None
    assert nudge(Nudger(), key_elevation_deg=SETUP.key_elevation_deg + 40.0) is not None


def test_the_sun_on_the_other_side_is_gone_round_too():
    lit = {"lit_stops": 1.0, "moves": {move: getattr(SETUP, move) for move in MOVES}}
    wanted = PLANNED.measures["lit_side"]
    shown = sight(**lit | {"lit_stops": -1.5 if wanted > 0 else 1.5})
    (found,) = [f for f in check_frame("f.jpg", shown, SUNNY).findings if f.name == "key-side"]
    assert found.say.startswith("Go round with the camera until the light is at camera ")
