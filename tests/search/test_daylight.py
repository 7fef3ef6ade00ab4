"""Plans under a light that nobody moves: its height is kept, sitter and camera go round it."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.brief.comfort import comfort_for
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.place_light import Daylight, sun_light
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.scene.setup import Setup
from sitwell.scene.sun import SQUINT_DEG, gaze_to_sun_deg
from sitwell.scene.window import BODY_MM, elevation_at_deg, stand_by
from sitwell.search import sentences as say
from sitwell.search.group_search_space import GroupSitter, set_group_search_space
from tests.search.conftest import StandInEvaluator

FEW = 300
SUNNY = dataclasses.replace(
    ROOMS["outdoors"],
    daylight=Daylight(light=sun_light((27.0, 27.0)), unfilled_ratio=6.5, bearing_deg=200.0),
)


@pytest.fixture
def under(plan):
    """Plan in a room, for two wishes where none is given."""

    def make(room, *wishes, **how):
        return plan(*(wishes or ("ears", "nose-bend")), evaluations=FEW, room=room, **how)

    return make


def guard(planned, name):
    return next((g for g in planned.guards if g.name == name), None)


def moves(planned):
    return {row.move for row in planned.leeway}


def test_the_sun_keeps_its_height_and_is_gone_round(under):
    made = under(SUNNY)
    for planned in made.setups:
        setup = planned.setup
        assert setup.key_elevation_deg == 27.0
        assert planned.light == "sun"
        assert -90 <= setup.key_azimuth_deg <= 90
        assert setup.key_size_mm == SUNNY.daylight.light.size_mm
        assert 2.0 <= setup.fill_ratio <= 6.5  # a reflector gives no more than the sun
        assert say.NOTE_STAYS["sun"] in planned.notes
        assert "key_azimuth_deg" in moves(planned)
        assert not {"key_elevation_deg", "key_distance_mm"} & moves(planned)


def test_a_plan_holds_plain_numbers_also_where_a_bound_is_the_value(under):
    made = under(SUNNY)
    for setup in (made.baseline, *(planned.setup for planned in made.setups)):
        kinds = {type(getattr(setup, field.name)) for field in dataclasses.fields(setup)}
        assert kinds <= {float, str}


def test_nobody_is_made_to_look_into_the_sun(under):
    for planned in under(SUNNY).setups:
        state = guard(planned, "squint")
        assert state.holds
        assert gaze_to_sun_deg(planned.setup) >= SQUINT_DEG
        assert_allclose(state.value, gaze_to_sun_deg(planned.setup))


def test_a_squint_that_cant_be_helped_is_told(under):
    made = under(SUNNY, locked={"key_azimuth_deg": 5.0, "camera_height_mm": 0.0})
    for planned in made.setups:
        assert not guard(planned, "squint").holds
        assert any("look into the sun and squint" in note for note in planned.notes)


def test_outdoors_there_is_no_ceiling_no_wall_and_no_stand(under):
    for room in (SUNNY, ROOMS["open-shade"]):
        for planned in under(room).setups:
            for name in ("ceiling", "walls", "floor", "key out of picture", "window wall"):
                assert guard(planned, name) is None


def test_an_hour_can_be_chosen_where_none_is_given(under):
    low, high = ROOMS["outdoors"].daylight.light.elevation_deg
    assert low < high
    for planned in under(ROOMS["outdoors"]).setups:
        assert low <= planned.setup.key_elevation_deg <= high
        assert "key_elevation_deg" in moves(planned)


def test_open_shade_is_soft_and_has_little_contrast(under):
    for planned in under(ROOMS["open-shade"]).setups:
        assert 2.0 <= planned.setup.fill_ratio <= ROOMS["open-shade"].daylight.unfilled_ratio
        assert say.NOTE_STAYS["shade"] in planned.notes
        assert guard(planned, "squint") is None


@pytest.fixture
def by_window(under):
    return under(ROOMS["by-a-window"], comfort=comfort_for(["seated"]))


def test_a_windows_height_follows_from_the_sitters_distance(by_window):
    light = ROOMS["by-a-window"].daylight.light
    for planned in by_window.setups:
        rise_mm = light.middle_mm - 1200.0
        setup = planned.setup
        assert_allclose(setup.key_elevation_deg, elevation_at_deg(rise_mm, setup.key_distance_mm))
        assert light.distance_mm[0] <= setup.key_distance_mm <= light.distance_mm[1]
        assert setup.fill_ratio >= 2.0
        assert "key_distance_mm" in moves(planned)
        assert "key_elevation_deg" not in moves(planned)
        assert not any(reason.move == "key_elevation_deg" for reason in planned.reasons)
        assert say.NOTE_STAYS["window"] in planned.notes


def test_the_camera_stays_in_the_room_and_out_of_the_windows_light(by_window):
    for planned in by_window.setups:
        stand = stand_by(planned.setup)
        assert guard(planned, "window wall").holds
        assert guard(planned, "window free").holds
        assert stand.camera_from_wall_mm >= BODY_MM
        assert stand.clear_of_light_mm(planned.setup.key_size_mm) >= 0


def test_a_windows_leeway_keeps_the_camera_off_the_wall(by_window):
    for planned in by_window.setups:
        (row,) = (row for row in planned.leeway if row.move == "key_distance_mm")
        nearest = planned.setup.with_changes(key_distance_mm=row.low)
        rise_mm = ROOMS["by-a-window"].daylight.light.middle_mm - 1200.0
        nearest = nearest.with_changes(key_elevation_deg=elevation_at_deg(rise_mm, row.low))
        assert stand_by(nearest).camera_from_wall_mm >= BODY_MM - 1e-6


def test_a_held_height_is_kept_at_a_window_too(under):
    made = under(ROOMS["by-a-window"], locked={"key_elevation_deg": 20.0})
    assert all(planned.setup.key_elevation_deg == 20.0 for planned in made.setups)


def test_a_window_from_one_camera_only_turns_the_sitter(under):
    made = under(ROOMS["living-room"], kit=KITS["one-35-mm-window"])
    for planned in made.setups:
        assert planned.setup.key_azimuth_deg == -70.0
        assert guard(planned, "window wall") is None
        assert say.NOTE_STAYS[""] in planned.notes


def test_the_gaze_counts_from_where_the_lens_stands():
    # the lens 600 mm under the eyes at 2 m: 17.5 degrees farther from a sun 30 degrees up
    level = Setup(key_azimuth_deg=0, key_elevation_deg=30, distance_mm=2000)
    low = level.with_changes(camera_height_mm=-600)
    more = math.degrees(math.asin(600 / 2000))
    assert_allclose(gaze_to_sun_deg(low) - gaze_to_sun_deg(level), more, atol=1e-6)


def test_by_a_window_a_groups_key_is_as_high_as_the_window_too():
    sitters = [
        GroupSitter(label=name, evaluator=StandInEvaluator(), comfort=comfort_for(["seated"]))
        for name in ("Mara", "Ben")
    ]
    names = sitters[0].evaluator.names
    room, kit = ROOMS["by-a-window"], KITS["full-frame-primes"]
    space = set_group_search_space(
        sitters, kit, room, "head-and-shoulders", "4:5", {}, measure_names=names
    )
    rise_mm = room.daylight.light.middle_mm - 1200.0
    for place in (0.2, 0.7):
        x = np.full(len(space.moves), place)
        for made in (space.setup_at(0, x), space.settled(0, x)):
            shared = made.shared
            assert_allclose(
                shared.key_elevation_deg, elevation_at_deg(rise_mm, shared.key_distance_mm)
            )
