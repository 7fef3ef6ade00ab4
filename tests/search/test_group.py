"""Groups: the geometry of several sitters before one camera, and one search for all their wishes.

Directions are common practice (no source); no number here is an outside value.
"""

import dataclasses
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import RoomError, SearchStoppedError, SetupError, UsageError, WishError
from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.comfort import Comfort, comfort_for
from sitwell.brief.kit import DEFAULT_KIT
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.room import DEFAULT_ROOM
from sitwell.brief.wishes import HeightWish, parse_wish
from sitwell.scene.rim import rim_place_mm
from sitwell.scene.setup import Setup
from sitwell.search.differences import differences
from sitwell.search.goals import effort, outward_steps
from sitwell.search.group import GroupSetup, Place
from sitwell.search.group_facts import FACT_NAMES, group_facts, group_guards, height_step
from sitwell.search.group_search_space import (
    MOST_SITTERS,
    SPACING_MM,
    Arrangement,
    GroupSitter,
    set_group_search_space,
    usual_arrangements,
)
from sitwell.search.group_words import GROUP_GUARD_SENTENCES
from sitwell.search.moves import MOVES, POSE_MOVES
from sitwell.search.planner import make_group_plan
from sitwell.search.walk import SEEN
from tests.search.conftest import StandInEvaluator

FEW = 240
STILL = dict.fromkeys(POSE_MOVES, 0.0)
EYES_MM = (1550.0, 1550.0)
# Nothing but turn and chin is left to serve both wishes.
TORN_COMFORT = Comfort(tilt_deg=(0.0, 0.0), chin_forward_mm=(0.0, 0.0))
EVERY_MOVE = [(None, m) for m in MOVES if m.name not in POSE_MOVES] + [
    (i, m) for i in (0, 1) for m in MOVES if m.name in POSE_MOVES
]
CAMERA_HELD = {"camera_height_mm": 0.0}


def pair(shared=None, first=None, second=None, poses=(STILL, STILL)):
    return GroupSetup(
        shared=shared or Setup(key_azimuth_deg=0.0),
        places=(first or place(-200.0), second or place(200.0)),
        poses=poses,
    )


def place(x_mm, y_mm=0.0, z_mm=0.0):
    return Place(x_mm=x_mm, y_mm=y_mm, z_mm=z_mm)


def facts(setup):
    kit, room = DEFAULT_KIT, DEFAULT_ROOM
    found = group_facts(setup, kit.lights[0], room, kit.cameras[0], EYES_MM)
    return dict(zip(FACT_NAMES, found.tolist(), strict=True))


def sitter(stand_in, *wishes, label="Mara", **how):
    evaluator, comfort = how.pop("evaluator", None) or stand_in(), how.pop("comfort", Comfort())
    return GroupSitter(
        label=label,
        evaluator=evaluator,
        wishes=tuple(parse_wish(wish) for wish in wishes),
        comfort=comfort,
        **how,
    )


def planned(stand_in, *sitters, **how):
    how.setdefault("evaluations", FEW)
    return make_group_plan(sitters, measure_names=stand_in().names, **how)


def test_one_in_the_middle_is_seen_as_alone():
    shared = Setup(key_azimuth_deg=40.0, camera_height_mm=120.0)
    group = pair(shared, first=place(0.0), second=place(500.0))
    for field in dataclasses.fields(Setup):
        alone, own = getattr(shared, field.name), getattr(group.own(0), field.name)
        assert own == pytest.approx(alone), field.name


def test_two_beside_the_middle_are_each_other_s_mirror():
    left, right = (pair().own(i) for i in (0, 1))
    assert left.distance_mm == pytest.approx(right.distance_mm)
    assert left.key_azimuth_deg == pytest.approx(-right.key_azimuth_deg)
    # whoever stands at camera left has a key over the lens at their camera right
    assert left.key_azimuth_deg > 0


def test_the_nearer_to_the_key_has_less_background_and_more_ratio():
    group = pair(Setup(key_azimuth_deg=60.0))
    far, near = group.own(0), group.own(1)
    assert near.key_distance_mm < far.key_distance_mm
    stops = 2 * math.log2(far.key_distance_mm / near.key_distance_mm)
    assert far.background_stops - near.background_stops == pytest.approx(stops)
    assert near.fill_ratio > group.shared.fill_ratio > far.fill_ratio


spans = st.floats(-1.0, 1.0, allow_nan=False)


@given(x=spans, y=spans, z=spans, height=spans, azimuth=spans, turn=spans, index=st.integers(0, 1))
def test_what_one_sitter_s_own_set_up_says_gives_the_group_back(
    x, y, z, height, azimuth, turn, index
):
    shared = Setup(
        distance_mm=2400.0, camera_height_mm=400.0 * height, key_azimuth_deg=80.0 * azimuth
    )
    poses = ({**STILL, "turn_deg": 40.0 * turn}, STILL)
    group = pair(shared, place(300.0 * x, 150.0 * y, 100.0 * z), place(220.0), poses)
    again = group.with_own(index, group.own(index))
    for field in dataclasses.fields(Setup):
        was, now = getattr(group.shared, field.name), getattr(again.shared, field.name)
        if isinstance(was, float):
            assert_allclose(now, was, rtol=1e-9, atol=1e-6, err_msg=field.name)
        else:
            assert now == was
    assert again.poses == group.poses


def test_a_camera_inside_the_group_is_refused():
    group = pair()
    with pytest.raises(SetupError, match="distance_mm 150 brings the camera into the group"):
        group.with_own(0, group.own(0).with_changes(distance_mm=150.0))


def test_the_nearer_and_the_lower_look_larger_and_lower_from_above():
    above = Setup(distance_mm=2000.0, camera_height_mm=300.0)
    level = pair(above)
    taller_nearer = pair(
        above, first=place(-200.0, 50.0, 100.0), second=place(200.0, -50.0, -100.0)
    )
    taller_beside = pair(above, first=place(-200.0, 50.0), second=place(200.0, -50.0))
    assert height_step(level) == pytest.approx(0.0, abs=1e-9)
    # from above, who stands nearer is seen lower: the taller one forward evens the two
    assert height_step(taller_nearer) < height_step(taller_beside)
    assert facts(taller_nearer)["size_ratio"] > facts(taller_beside)["size_ratio"]


def test_height_is_counted_in_faces():
    # two eye lines 185 mm apart are one usual face (hairline to chin) apart
    apart_mm = pair(first=place(-200.0, 92.5), second=place(200.0, -92.5))
    assert height_step(apart_mm) == pytest.approx(1.0, rel=0.01)


def broken(setup):
    values = np.array([facts(setup)[name] for name in FACT_NAMES])
    return [guard.name for guard in group_guards(DEFAULT_ROOM).broken(values)]


GOOD = Setup(distance_mm=2800.0, f_number=5.6, key_azimuth_deg=20.0, key_elevation_deg=45.0)


@pytest.mark.parametrize(
    ("name", "setup"),
    [
        (
            "everyone sharp",
            pair(GOOD.with_changes(f_number=1.4), place(-200.0, 0, 150.0), place(200.0, 0, -150.0)),
        ),
        ("nobody covered", pair(GOOD, place(-40.0, 0.0, 300.0), place(40.0, 0.0, -300.0))),
        ("nobody shaded", pair(GOOD.with_changes(key_azimuth_deg=90.0, key_elevation_deg=0.0))),
        ("even light", pair(GOOD.with_changes(key_azimuth_deg=70.0, key_distance_mm=900.0))),
        ("even size", pair(GOOD, place(-200.0, 0.0, 200.0), place(200.0, 0.0, -200.0))),
        ("walls", pair(GOOD.with_changes(key_azimuth_deg=85.0, key_distance_mm=3000.0))),
        ("key out of picture", pair(GOOD.with_changes(key_elevation_deg=5.0))),
    ],
)
def test_each_guard_of_the_group_can_break(name, setup):
    assert broken(pair(GOOD)) == []
    assert name in broken(setup)


def test_each_guard_of_the_group_has_its_sentence():
    guards = group_guards(DEFAULT_ROOM).guards
    assert {guard.name for guard in guards} == set(GROUP_GUARD_SENTENCES)
    assert all(guard.sentence == GROUP_GUARD_SENTENCES[guard.name] for guard in guards)


def test_turning_away_from_one_another_is_counted():
    toward = pair(poses=({**STILL, "turn_deg": 20.0}, {**STILL, "turn_deg": -20.0}))
    away = pair(poses=({**STILL, "turn_deg": -20.0}, {**STILL, "turn_deg": 20.0}))
    assert outward_steps(toward) == 0.0
    assert outward_steps(away) > 3.0


def test_rows_hold_every_order_a_step_and_a_box_for_the_lowest(stand_in):
    tall, short = sitter(stand_in), sitter(stand_in, comfort=Comfort(eyes_above_floor_mm=1400.0))
    rows = usual_arrangements((tall, short))
    assert {row.order for row in rows} == {(0, 1), (1, 0)}
    assert {row.box_mm for row in rows} == {(0.0, 0.0), (0.0, 100.0), (0.0, 200.0)}
    first = rows[0].places([1550.0, 1400.0])
    assert [p.x_mm for p in first] == [-SPACING_MM / 2, SPACING_MM / 2]
    assert [p.y_mm for p in first] == [75.0, -75.0]
    swapped = Arrangement(order=(1, 0), forward_mm=(0.0, 0.0), box_mm=(0.0, 0.0))
    assert [p.x_mm for p in swapped.places([1550.0, 1400.0])] == [SPACING_MM / 2, -SPACING_MM / 2]


def test_a_box_is_not_offered_between_equals(stand_in):
    rows = usual_arrangements((sitter(stand_in), sitter(stand_in)))
    assert {row.box_mm for row in rows} == {(0.0, 0.0)}


def test_three_stand_in_six_orders(stand_in):
    rows = usual_arrangements([sitter(stand_in) for _ in range(3)])
    assert len({row.order for row in rows}) == 6


@pytest.mark.parametrize("count", [0, MOST_SITTERS + 1])
def test_a_group_is_one_to_five(stand_in, count):
    with pytest.raises(UsageError, match=f"One to 5 sitters are planned together, not {count}"):
        planned(stand_in, *[sitter(stand_in) for _ in range(count)])


def test_a_rim_light_stands_behind_everybody_and_clear(stand_in):
    made = planned(
        stand_in,
        sitter(stand_in, "ears", label="A"),
        sitter(stand_in, label="B"),
        kit=KITS["three-flashes"],
        locked={"rim": "on"},
        evaluations=100,
    )
    for group in made.setups:
        shared = group.setup.shared
        assert shared.rim == "on"
        guards = {guard.name: guard for guard in group.guards}
        assert guards["rim light off lens"].holds
        assert guards["rim light in room"].holds
        lamp = rim_place_mm(shared)
        for i, part in enumerate(group.planned):
            assert part.setup.rim == "on"
            # one and the same lamp, seen from each one's place
            turned = rotation_from_pose(group.setup.bearing_deg(i), 0.0, 0.0)
            place = group.setup.places[i].eyes_mm
            assert_allclose(turned @ rim_place_mm(part.setup) + place, lamp, atol=1e-6)
        assert any("The rim light stands" in note for note in group.notes)


def test_a_rim_light_beside_a_sitter_is_none_of_theirs():
    near = Setup(rim="on", rim_azimuth_deg=170.0, rim_elevation_deg=0.0, rim_distance_mm=600.0)
    group = pair(near, second=place(200.0, z_mm=-580.0))
    assert group.own(0).rim == "on"
    assert group.own(1).rim == "off"


def test_the_nearer_to_the_rim_light_has_more_of_it():
    group = pair(Setup(rim="on", rim_azimuth_deg=140.0, key_azimuth_deg=0.0))
    far, near = group.own(0), group.own(1)  # the lamp is at camera right
    assert near.rim_distance_mm < far.rim_distance_mm
    stops = 2 * math.log2(far.rim_distance_mm / near.rim_distance_mm)
    assert near.rim_stops - far.rim_stops == pytest.approx(stops)


def test_no_rim_light_behind_anybody_s_thinning_hair(stand_in):
    made = planned(
        stand_in,
        sitter(stand_in, "thinning-hair", label="A"),
        sitter(stand_in, label="B"),
        kit=KITS["three-flashes"],
        locked={"rim": "on"},
        evaluations=60,
    )
    assert all(group.setup.shared.rim == "off" for group in made.setups)
    assert made.notes[0].startswith("The rim light is left out")


def test_a_room_too_small_for_a_row_is_named(stand_in):
    room = dataclasses.replace(DEFAULT_ROOM, name="cupboard", depth_mm=1100.0)
    with pytest.raises(RoomError, match="4 people side by side don't fit the room 'cupboard'"):
        planned(stand_in, *[sitter(stand_in) for _ in range(4)], room=room)


def test_two_wishes_of_one_sitter_for_the_same_are_named(stand_in):
    with pytest.raises(WishError, match="two wishes of Mara for 'ears'"):
        planned(stand_in, sitter(stand_in, "ears", "ears:leave"), sitter(stand_in))


def test_a_stopped_search_says_so(stand_in):
    with pytest.raises(SearchStoppedError, match="was stopped"):
        planned(stand_in, sitter(stand_in, "ears"), sitter(stand_in), stop=lambda: True)


@pytest.fixture(scope="module")
def couple():
    comfort = Comfort(eyes_above_floor_mm=1420.0)
    mara = GroupSitter(
        label="Mara",
        evaluator=StandInEvaluator(bend=0.03),
        wishes=(parse_wish("ears:soften:3"),),
    )
    ben = GroupSitter(
        label="Ben",
        evaluator=StandInEvaluator(bend=-0.03),
        wishes=(parse_wish("nose-bend"), parse_wish("forehead")),
        comfort=comfort,
    )
    told = []
    made = make_group_plan(
        (mara, ben),
        measure_names=mara.evaluator.names,
        height=HeightWish(direction="soften"),
        evaluations=400,
        progress=lambda share, doing: told.append((share, doing)),
    )
    return made, told


def test_one_camera_and_key_serve_both(couple):
    made, _ = couple
    assert made.setups
    for group in made.setups:
        owns = [part.setup for part in group.planned]
        assert owns == [group.setup.own(i) for i in range(2)]
        for name in ("focal_mm", "f_number", "key_size_mm", "framing"):
            assert len({getattr(own, name) for own in owns}) == 1
        assert all(guard.holds for guard in group.guards)
        assert all(guard.holds for part in group.planned for guard in part.guards)


def test_each_keeps_a_plan_of_their_own_that_is_the_group_s(couple):
    made, _ = couple
    for i, part in enumerate(made.parts):
        assert part.setups == tuple(group.planned[i] for group in made.setups)
        assert part.baseline == made.baseline.own(i)


def test_nobody_pays_for_another_s_wish(couple):
    made, _ = couple
    for group in made.setups:
        for part in group.planned:
            assert sum(gain.gain for gain in part.gains) > -0.5


def test_the_heights_are_evened(couple):
    made, _ = couple
    assert made.baseline_height_step > 0.6
    assert made.setups[-1].height_step < made.baseline_height_step - 0.2


def test_set_ups_of_a_group_are_stops_on_one_way(couple):
    made, _ = couple
    setups = [made.baseline, *(group.setup for group in made.setups)]
    asked = [effort(made.baseline, setup) for setup in setups]
    assert asked == sorted(set(asked))
    gained = [
        sum(gain.gain for part in group.planned for gain in part.gains if not is_light(gain))
        for group in made.setups
    ]
    assert gained == sorted(gained)
    for one, other in pairwise(setups[1:]):
        assert one.left_to_right() == other.left_to_right()
        assert max(differences(one, other).values()) >= SEEN
    for whose, move in EVERY_MOVE:
        way = [move.coordinate(setup.value(whose, move.name)) for setup in setups]
        far = way[-1] - way[0]
        assert all((b - a) * far >= -move.grid * abs(far) for a, b in pairwise(way)), move.name


def is_light(gain):
    """The light on an ear is told, and counted in how much it draws the eye."""
    return gain.measure.startswith("light_ear")


def test_leeway_is_told_for_what_is_shared_and_for_each(couple):
    made, _ = couple
    strong = made.setups[-1]
    shared = {row.move: row for row in strong.leeway}
    assert {"camera_height_mm", "distance_mm"} <= set(shared)
    assert not set(shared) & set(POSE_MOVES)
    for row in strong.leeway:
        value = getattr(strong.setup.shared, row.move)
        assert row.low - 0.01 <= value <= row.high + 0.01
    for part in strong.planned:
        moves = {row.move for row in part.leeway}
        assert {*POSE_MOVES, "distance_mm"} <= moves
        for row in part.leeway:
            assert row.low - 0.6 <= getattr(part.setup, row.move) <= row.high + 0.6, row.move


def test_progress_never_falls(couple):
    _, told = couple
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_the_same_seed_gives_the_same_plan(stand_in):
    def make():
        return planned(
            stand_in,
            sitter(stand_in, "ears", label="A"),
            sitter(stand_in, "forehead", label="B"),
            evaluations=120,
        )

    assert make() == make()


def test_a_limit_and_a_held_move_of_one_bind_only_them(stand_in):
    stiff = sitter(stand_in, "ears", label="A", comfort=comfort_for(["stiff-neck"]))
    free = sitter(stand_in, "ears", label="B", held={"turn_deg": 12.0})
    made = planned(stand_in, stiff, free)
    for group in made.setups:
        assert abs(group.planned[0].setup.turn_deg) <= 20.0
        assert group.planned[1].setup.turn_deg == 12.0


def test_a_locked_lens_is_kept(stand_in):
    made = planned(stand_in, sitter(stand_in, "ears"), sitter(stand_in), locked={"focal_mm": 50.0})
    assert all(group.setup.shared.focal_mm == 50.0 for group in made.setups)


def test_without_a_wish_the_group_is_planned_plainly(stand_in):
    made = planned(stand_in, sitter(stand_in, label="A"), sitter(stand_in, label="B"))
    assert made.setups
    assert made.notes == ("Nobody made a wish, so nothing is played down or brought out.",)


def test_a_camera_that_is_held_has_no_leeway(stand_in):
    made = planned(
        stand_in,
        sitter(stand_in, "ears", label="A"),
        sitter(stand_in, label="B"),
        locked={"distance_mm": 2600.0},
        evaluations=60,
    )
    assert all("distance_mm" not in [r.move for r in group.leeway] for group in made.setups)


def test_torn_wishes_of_one_sitter_are_served_one_by_one(stand_in):
    # the same chin would have to go up for the one and down for the other
    torn = sitter(stand_in, "forehead:soften:3", "eye-size:bring-out:3", label="A",
                  comfort=TORN_COMFORT)  # fmt: skip
    made = planned(stand_in, torn, sitter(stand_in, label="B"), locked=CAMERA_HELD)
    told = [note for group in made.setups for note in group.planned[0].notes]
    assert len(made.setups) >= 2
    assert any(note.startswith("A: The wishes pull opposite ways; this") for note in told), told
    assert any(note.startswith("A: The wishes pull opposite ways, so that") for note in made.notes)


def test_five_can_be_planned(stand_in):
    deep = dataclasses.replace(DEFAULT_ROOM, depth_mm=12000.0, width_mm=9000.0)
    made = planned(
        stand_in, *[sitter(stand_in, "ears", label=name) for name in "ABCDE"], room=deep,
        evaluations=40, arrangements=[Arrangement(order=(2, 0, 1, 4, 3), forward_mm=(0.0,) * 5,
                                                  box_mm=(0.0,) * 5)],
    )  # fmt: skip
    assert len(made.parts) == 5
    assert made.setups[-1].setup.left_to_right() == (2, 0, 1, 4, 3)


def test_three_can_be_planned(stand_in):
    made = planned(stand_in, *[sitter(stand_in, "ears", label=name) for name in "ABC"])
    assert len(made.parts) == 3
    assert made.setups[-1].setup.lying


def test_a_shared_move_that_two_wishes_pull_apart_is_told(stand_in):
    made = planned(
        stand_in,
        sitter(stand_in, "eye-size:bring-out:3", label="A"),
        sitter(stand_in, "forehead:soften:3", "nose-length", label="B"),
    )
    moves = {conflict.move for conflict in made.conflicts}
    assert not moves & set(POSE_MOVES)
    for conflict in made.conflicts:
        assert conflict.first.startswith("A: ")
        assert conflict.second.startswith("B: ")
        assert "works against" in conflict.sentence


def test_a_stage_finds_its_own_places_again(stand_in):
    names = stand_in().names
    space = set_group_search_space(
        [sitter(stand_in), sitter(stand_in)], DEFAULT_KIT, DEFAULT_ROOM,
        "head-and-shoulders", "4:5", {}, None, names,
    )  # fmt: skip
    random = np.random.default_rng(3)
    for option in (0, len(space.options) - 1):
        x = random.random(len(space.moves))
        assert_allclose(space.place_of(option, space.setup_at(option, x)), x, atol=1e-9)
        settled = space.settled(option, x)
        again = space.settled(option, space.place_of(option, settled))
        assert again == settled
