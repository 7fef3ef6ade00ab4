"""What a plan promises, on a stand-in picture: the real head has tests of its own."""

import dataclasses
from itertools import combinations, pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import (
    KitError,
    RoomError,
    SearchStoppedError,
    SetupError,
    WishError,
)
from sitwell.brief.comfort import comfort_for
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.place_light import Daylight
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import lights_of
from sitwell.brief.wishes import DIRECTIONS, FEATURES, parse_wish
from sitwell.search import sentences as say
from sitwell.search.differences import lone_differences
from sitwell.search.goals import lone_effort
from sitwell.search.group_search_space import GroupSitter
from sitwell.search.moves import MOVE_BY_NAME, MOVES, NOMINAL_F
from sitwell.search.planner import make_group_plan, make_plan
from sitwell.search.values import MOVED, STAYS
from sitwell.search.walk import SEEN

FEW = 500  # evaluations: enough for a sensible plan on smooth formulas


def wish_names():
    return [f"{feature}:{direction}" for feature in FEATURES for direction in DIRECTIONS]


@pytest.mark.parametrize("wish", wish_names())
def test_every_wish_gets_set_ups_that_keep_the_guards_and_differ(plan, wish):
    made = plan(wish, evaluations=FEW)
    assert 1 <= len(made.stops) <= 3
    for planned in made.setups:
        assert all(guard.holds for guard in planned.guards), planned.name
    for one, other in combinations(made.stops, 2):
        assert max(lone_differences(one.setup, other.setup).values()) >= SEEN


@pytest.mark.parametrize(
    "wish", ["ears", "forehead", "nose-length", "jaw", "face-width:narrower", "skin"]
)
def test_a_wish_that_can_be_served_is_served_in_stops_on_one_way(plan, wish):
    made = plan(wish, evaluations=FEW)
    names = [planned.name for planned in made.stops]
    assert names in (["balanced"], ["gentle", "strong"], ["gentle", "balanced", "strong"])
    gains = [sum(gain.gain for gain in planned.gains) for planned in made.stops]
    asked = [lone_effort(made.baseline, planned.setup) for planned in made.stops]
    assert gains[0] > 0.1
    assert gains == sorted(gains)
    assert asked == sorted(asked)
    for move in MOVES:
        way = [
            move.coordinate(getattr(setup, move.name))
            for setup in (made.baseline, *(planned.setup for planned in made.stops))
        ]
        far = way[-1] - way[0]
        assert all((b - a) * far >= -move.grid * abs(far) for a, b in pairwise(way)), move.name


@pytest.mark.parametrize("wish", ["forehead", "nose-length", "eye-size", "nose-bend", "skin"])
def test_soften_and_bring_out_pull_the_measure_opposite_ways(plan, wish):
    softened, brought = (
        plan(f"{wish}:{direction}", evaluations=FEW).stops[-1].gains[0]
        for direction in ("soften", "bring-out")
    )
    assert softened.measure == brought.measure
    assert (softened.becomes - softened.was) * (brought.becomes - brought.was) < 0


def test_a_left_alone_measure_stays_near_the_straight_on_one(plan):
    freed = plan("forehead", evaluations=FEW).stops[-1]
    held = plan("forehead", "jaw:leave:3", evaluations=FEW).stops[-1]
    base = plan("forehead", evaluations=FEW).baseline_measures["under_chin"]
    drift = abs(held.measures["under_chin"] - base)
    assert drift <= abs(freed.measures["under_chin"] - base) + 1e-9
    assert drift < 0.013


def test_the_gentle_set_up_asks_less_of_the_sitter_than_the_strong_one(plan):
    made = plan("jaw:soften", evaluations=FEW)
    assert len(made.stops) > 1
    asked = [
        sum(
            abs(getattr(planned.setup, name)) / MOVE_BY_NAME[name].step
            for name in ("turn_deg", "chin_deg", "tilt_deg")
        )
        for planned in made.stops
    ]
    assert asked[0] < asked[-1]


def test_every_wish_of_several_gains_in_the_gentle_set_up(plan):
    made = plan("nose-length", "ears", evaluations=800)
    gentle = made.stops[0]
    for wish in ("nose-length", "ears"):
        assert sum(gain.gain for gain in gentle.gains if gain.wish == wish) > 0.1


def test_wishes_that_pull_opposite_ways_are_served_one_at_a_time_and_said(plan):
    made = plan("nose-length", "eye-size:bring-out", evaluations=800)
    if say.NOTE_OPPOSED not in made.notes:
        # One set-up serves both: then the collision must at least be told.
        assert {c.first for c in made.conflicts} & {"nose-length", "eye-size"}
        return
    said = " ".join(note for planned in made.stops for note in planned.notes)
    assert "serves" in said or "between" in said


def test_opposed_wishes_are_named_with_the_move_they_pull(plan):
    made = plan("nose-length:soften:3", "eye-size:bring-out:3", evaluations=800)
    pairs = {(c.first, c.second): c for c in made.conflicts}
    found = pairs.get(("nose-length", "eye-size")) or pairs.get(("eye-size", "nose-length"))
    assert found is not None
    assert found.move in {"chin_deg", "camera_height_mm"}
    assert "works against" in found.sentence


def test_a_guard_in_the_way_is_named(plan):
    made = plan("nose-length:soften:3", evaluations=FEW)
    assert any(c.second == "nostrils" for c in made.conflicts)


def test_without_a_wish_the_set_ups_are_plain_and_said_to_be(plan):
    made = plan(evaluations=FEW)
    assert say.NOTE_NO_WISH in made.notes
    assert len(made.stops) == 2  # between straight on and a far ear that is gone lies a sliver
    turns = [abs(planned.setup.turn_deg) for planned in made.stops]
    assert turns == sorted(turns)
    for setup in (planned.setup for planned in made.stops):  # nobody needs these moves
        assert (setup.chin_deg, setup.tilt_deg, setup.camera_height_mm) == (0.0, 0.0, 0.0)
    assert all(not planned.gains for planned in made.stops)


def test_only_leave_is_plain_too(plan):
    assert say.NOTE_ONLY_LEAVE in plan("ears:leave", evaluations=FEW).notes


@pytest.mark.parametrize(
    "locked",
    [
        {"turn_deg": 12.0},
        {"chin_deg": 0.0, "tilt_deg": 0.0},
        {"key_azimuth_deg": -45.0},
        {"f_number": 2.8},
        {"focal_mm": 50.0},
        {"distance_mm": 2200.0, "focal_mm": 85.0},
        {"crop": "into-forehead"},
        {"fill_ratio": 2.25},
    ],
)
def test_what_is_fixed_stays_fixed(plan, locked):
    made = plan("forehead", "ears", evaluations=FEW, locked=locked)
    for planned in made.stops:
        for name, value in locked.items():
            assert getattr(planned.setup, name) == value
        assert not {row.move for row in planned.leeway} & set(locked)


def test_with_everything_fixed_there_is_one_set_up_and_it_is_said(plan):
    locked = {move.name: 0.0 for move in MOVES[:5]} | {
        "f_number": 4.0,
        "key_azimuth_deg": 30.0,
        "key_elevation_deg": 30.0,
        "key_distance_mm": 1500.0,
        "fill_ratio": 3.0,
        "background_stops": -1.0,
        "focal_mm": 85.0,
    }
    made = plan("ears", evaluations=FEW, locked=locked)
    assert len(made.stops) == 1
    assert say.NOTE_FEWER[1] in made.notes


def test_a_fixed_move_that_breaks_a_guard_is_stated(plan):
    made = plan("nose-length", evaluations=FEW, locked={"turn_deg": 45.0})
    for planned in made.stops:
        assert [g for g in planned.guards if g.name == "nose line" and not g.holds]
        assert any(note.startswith("This set-up does not keep a guard") for note in planned.notes)


def test_the_same_seed_gives_the_same_plan(plan):
    first, again = (plan("ears", "jaw", evaluations=FEW, seed=3) for _ in range(2))
    assert first == again


def test_values_are_what_a_person_can_set(plan):
    for planned in plan("ears", "forehead", "skin", evaluations=FEW).stops:
        setup = planned.setup
        for move in MOVES:
            value = getattr(setup, move.name)
            if move.name == "f_number":
                assert value in NOMINAL_F
            else:
                assert_allclose(value / move.grid, round(value / move.grid), atol=1e-9)
        assert setup.distance_mm % 10 == 0


def test_reported_measures_and_gains_belong_to_the_rounded_set_up(plan, stand_in):
    evaluator = stand_in()
    made = plan("ears", evaluations=FEW, evaluator=evaluator)
    for planned in made.stops:
        looked = dict(zip(evaluator.names, evaluator.evaluate(planned.setup), strict=True))
        for name, value in planned.measures.items():
            assert value == looked[name]
        for gain in planned.gains:
            assert gain.becomes == looked[gain.measure]
            assert gain.was == made.baseline_measures[gain.measure]


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("room", ROOMS)
def test_the_plan_keeps_to_kit_and_room(plan, kit, room):
    made = plan("ears", "nose-length", evaluations=300, kit=KITS[kit], room=ROOMS[room])
    lights = lights_of(KITS[kit], ROOMS[room])
    for planned in made.stops:
        setup = planned.setup
        lens = next(x for x in KITS[kit].lenses if x.focal_mm[0] <= setup.focal_mm <= x.focal_mm[1])
        assert setup.f_number >= 0.99 * lens.widest_f_at(setup.focal_mm)
        assert setup.distance_mm <= ROOMS[room].depth_mm
        low, high = ROOMS[room].background_stops
        assert low <= setup.background_stops <= high
        assert any(
            light.azimuth_deg[0] <= setup.key_azimuth_deg <= light.azimuth_deg[1]
            and light.size_mm == setup.key_size_mm
            for light in lights
        )
        broken = [g.name for g in planned.guards if not g.holds]
        noted = [n for n in planned.notes if n.startswith("This set-up does not keep a guard")]
        assert len(noted) == len(broken)


def test_only_a_35_mm_steps_back_and_says_so(plan):
    made = plan("forehead", evaluations=FEW, kit=KITS["one-35-mm-window"])
    for planned in made.stops:
        assert planned.setup.focal_mm == 35.0
        assert planned.setup.distance_mm == 900.0
        assert planned.setup.key_azimuth_deg == -70.0
        assert any("stand there and crop to the framing" in note for note in planned.notes)
        assert say.NOTE_STAYS[""] in planned.notes
        assert any("By hand, keep the shutter at 1/40 s" in note for note in planned.notes)


def test_comfort_is_kept(plan):
    made = plan(
        "ears:soften:3", "face-width:narrower", evaluations=FEW, comfort=comfort_for(["stiff-neck"])
    )
    for planned in made.stops:
        assert abs(planned.setup.turn_deg) <= 20.0
        for row in planned.leeway:
            if row.move == "turn_deg":
                assert -20.0 <= row.low <= row.high <= 20.0


def test_a_room_too_small_is_refused_with_what_it_would_take(plan):
    tiny = dataclasses.replace(ROOMS["small-room"], depth_mm=700.0)
    with pytest.raises(
        RoomError, match=r"needs 0\.90 m .* allows 0\.70 m .*choose a closer framing"
    ):
        plan("ears", room=tiny)


def test_no_light_at_all_is_refused(plan):
    dark = dataclasses.replace(KITS["full-frame-primes"], lights=())
    with pytest.raises(
        KitError, match=r"has a light; add a \[\[light\]\] to the kit or a \[window\]"
    ):
        plan("ears", kit=dark)


def test_the_rooms_window_serves_a_kit_without_lights(plan):
    dark = dataclasses.replace(KITS["full-frame-primes"], lights=())
    window = KITS["one-35-mm-window"].lights[0]
    made = plan(
        "ears",
        evaluations=300,
        kit=dark,
        room=dataclasses.replace(ROOMS["living-room"], daylight=Daylight(light=window)),
    )
    assert all(planned.setup.key_azimuth_deg == -70.0 for planned in made.stops)


@pytest.mark.parametrize(
    ("how", "error", "message"),
    [
        ({"framing": "toes"}, SetupError, "framing 'toes' is not known; choose tight-head"),
        ({"aspect": "9:9"}, SetupError, "aspect '9:9' is not known; choose 2:3"),
        ({"locked": {"mood": 3.0}}, SetupError, "'mood' can't be fixed; fix one of turn_deg"),
        (
            {"locked": {"crop": "ears"}},
            SetupError,
            "crop can't be fixed at 'ears'; give whole-head",
        ),
        ({"locked": {"turn_deg": "far"}}, SetupError, "turn_deg can't be fixed at 'far'; give a n"),
        ({"locked": {"focal_mm": 60.0}}, KitError, "gives focal_mm 60.0; fix another focal length"),
    ],
)
def test_a_wrong_request_is_refused_in_a_sentence(plan, how, error, message):
    with pytest.raises(error, match=message):
        plan("ears", **how)


@pytest.mark.parametrize(
    ("framing", "aspect", "warned"),
    [
        ("tight-head", "7:9", True),
        ("tight-head", "1:1", True),
        ("head-and-shoulders", "1:1", False),
        ("tight-head", "4:5", False),
    ],
)
def test_an_identity_pictures_format_is_warned_of_first(plan, framing, aspect, warned):
    made = plan(framing=framing, aspect=aspect)
    assert (made.notes[0] == say.NOTE_ID_PICTURE) == warned
    assert "which forbid posing" in say.NOTE_ID_PICTURE
    assert "A plan isn’t for them" in say.NOTE_ID_PICTURE


def test_two_wishes_for_one_feature_are_refused(plan):
    with pytest.raises(WishError, match="two wishes for 'ears'; keep one of them"):
        plan("ears", "ears:bring-out")


def test_progress_runs_from_nothing_to_done_and_a_stop_is_obeyed(plan):
    told = []
    plan("ears", evaluations=300, progress=lambda share, doing: told.append((share, doing)))
    shares = [share for share, _ in told]
    assert shares[0] == 0.0
    assert shares[-1] == 1.0
    assert shares == sorted(shares)
    assert told[-1][1] == say.STAGES["done"]
    with pytest.raises(SearchStoppedError, match="was stopped"):
        plan("ears", stop=lambda: len(told) > 0)


@pytest.mark.parametrize("framing", ["tight-head", "head-and-shoulders", "half-length"])
def test_a_cut_into_the_forehead_is_offered_in_every_framing_where_it_is_wished(framing, stand_in):
    def crops(*wishes):
        sitter = GroupSitter(label="", evaluator=stand_in(), wishes=tuple(map(parse_wish, wishes)))
        seen = set()
        evaluate = sitter.evaluator.evaluate
        sitter.evaluator.evaluate = lambda setup: (seen.add(setup.crop), evaluate(setup))[1]
        names = sitter.evaluator.names
        make_group_plan([sitter], framing=framing, measure_names=names, evaluations=100)
        return seen

    assert crops("forehead") == {"whole-head", "into-forehead"}
    assert crops("jaw") == {"whole-head"}


def test_the_strong_set_up_is_told_when_it_is_found(stand_in):
    told, evaluator = [], stand_in()
    made = make_plan(
        evaluator,
        [parse_wish("face-width:narrower")],
        evaluations=FEW,
        measure_names=evaluator.names,
        on_strong=lambda setup: told.append((evaluator.calls, setup)),
    )
    ((calls, strong),) = told
    assert calls < 0.75 * evaluator.calls
    # What stands in the plan lies on the way back from it.
    shown = made.stops[-1].setup
    assert abs(shown.turn_deg) <= abs(strong.own(0).turn_deg)
    assert shown.turn_deg * strong.own(0).turn_deg > 0


@pytest.mark.parametrize("wishes", [("ears", "nose-length"), ("forehead:soften:3",), ()])
def test_a_plan_looks_at_a_thousand_set_ups_at_most(plan, stand_in, wishes):
    evaluator = stand_in()
    plan(*wishes, evaluator=evaluator)
    assert evaluator.calls <= 1000


def test_a_known_fuller_side_of_a_smile_is_turned_nearer(plan):
    for side, sign in (("left", -1.0), ("right", 1.0)):
        made = plan(f"smile:fuller-own-{side}", evaluations=FEW)
        assert sign * made.stops[-1].setup.turn_deg > 3.0
        assert say.NOTE_FULLER_SIDE not in made.notes


def test_an_unknown_smile_is_left_to_words_and_asked_about(plan):
    notes = plan("smile:soften", evaluations=FEW).notes
    assert say.WISH_NOTES["smile"] in notes
    assert say.NOTE_FULLER_SIDE in notes


def test_glasses_are_planned_clear_where_they_were_measured(plan, stand_in):
    made = plan("glasses", evaluations=FEW, evaluator=stand_in(glasses=True))
    for planned in made.stops:
        assert planned.measures["glare_own_left_deg"] >= 2.0
    assert say.NOTE_NO_GLASSES in plan("glasses", evaluations=FEW).notes


def test_glasses_that_are_clear_already_are_kept_clear_and_said(plan, stand_in):
    made = plan("glasses", evaluations=FEW, evaluator=stand_in(glasses=True, glare_free_deg=40.0))
    assert say.NOTE_REACHED in made.notes
    assert all(g.gain >= -0.5 for planned in made.stops for g in planned.gains)


def test_measures_are_finite_so_that_a_plan_can_be_written_down(plan):
    made = plan("ears", evaluations=300)
    for planned in made.stops:
        assert all(np.isfinite(list(planned.measures.values())))
        assert all(np.isfinite([g.value for g in planned.guards]))


def every_sentence():
    for name, value in vars(say).items():
        if not name.isupper():
            continue
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for entry in value.values():
                yield from (entry if isinstance(entry, tuple) else (entry,))
    for table in (STAYS, MOVED):
        for entry in table.values():
            yield from entry


def test_apostrophes_are_curly_as_on_the_sheets():
    assert [text for text in every_sentence() if "'" in text] == []


def test_no_sentence_speaks_of_flaws():
    texts = [text for text in every_sentence() if " " in text]
    assert len(texts) > 60
    for text in texts:
        words = text.lower().replace(".", " ").split()
        for word in ("hide", "big", "problem", "bad", "ugly", "defect", "flaw", "beautiful"):
            assert word not in words, text
