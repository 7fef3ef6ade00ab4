"""Lamps beside the key: opposite it, in the room, clear of the lens; refused where they hurt."""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitwell.base.errors import KitError, SetupError
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.kit import LightSource
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.wishes import parse_wish
from sitwell.scene.rim import CLEAR_DEG, rim_margin_deg
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.lamps import (
    lamps_allowed,
    rim_in_room_mm,
    rim_placed,
    wants_rim,
    with_background_light,
)

STUDIO, SMALL_ROOM = ROOMS["studio"], ROOMS["small-room"]
THREE = KITS["three-flashes"]
STRIP = THREE.light_for("rim")
EYES_MM = 1200.0
FEW = 400


def placed(setup, room=STUDIO, **locked):
    return rim_placed(setup, STRIP, room, EYES_MM, locked)


@settings(max_examples=60, deadline=None)
@given(
    key_deg=st.floats(-90, 90),
    focal_mm=st.sampled_from((50, 85, 135)),
    height_mm=st.floats(-400, 400),
)
def test_it_stands_opposite_the_key_in_the_studio_and_clear_of_the_lens(
    key_deg, focal_mm, height_mm
):
    distance_mm = {50: 1200, 85: 2000, 135: 3200}[focal_mm]
    setup = placed(
        Setup(
            key_azimuth_deg=key_deg,
            focal_mm=focal_mm,
            distance_mm=distance_mm,
            camera_height_mm=height_mm,
        )
    )
    assert setup.rim == "on"
    assert setup.rim_azimuth_deg * key_deg <= 0.0
    assert rim_margin_deg(setup) >= CLEAR_DEG
    assert rim_in_room_mm(setup, STUDIO, EYES_MM) >= 0.0
    low, high = STRIP.distance_mm
    assert low <= setup.rim_distance_mm <= high
    assert setup.rim_size_mm == STRIP.size_mm


def test_a_tight_room_brings_it_nearer_and_the_nearest_miss_is_kept_where_none_fits():
    tight = placed(Setup(background_distance_mm=SMALL_ROOM.background_distance_mm), SMALL_ROOM)
    assert rim_in_room_mm(tight, SMALL_ROOM, EYES_MM) >= 0.0
    closet = dataclasses.replace(SMALL_ROOM, width_mm=1000.0)
    assert placed(Setup(), closet).rim == "on"
    assert rim_in_room_mm(placed(Setup(), closet), closet, EYES_MM) < 0.0


def test_what_is_fixed_of_it_stays():
    setup = placed(Setup(), rim_azimuth_deg=-165.0, rim_stops=1.0)
    assert (setup.rim_azimuth_deg, setup.rim_stops) == (-165.0, 1.0)


@pytest.mark.parametrize(
    ("locked", "wanted"),
    [
        ({}, False),
        ({"turn_deg": 10.0}, False),
        ({"rim": "on"}, True),
        ({"rim_stops": 1.0}, True),
        ({"rim": "off", "rim_stops": 1.0}, False),
    ],
)
def test_it_is_wanted_outright_or_by_fixing_something_of_it(locked, wanted):
    assert wants_rim(locked) is wanted


def test_none_behind_thinning_hair():
    wishes = [parse_wish("thinning-hair")]
    held, why = lamps_allowed({"rim": "on", "rim_stops": 1.0, "turn_deg": 5.0}, wishes)
    assert held == {"rim": "off", "turn_deg": 5.0}
    assert why == (say.NOTE_NO_RIM,)
    assert lamps_allowed({"turn_deg": 5.0}, wishes) == ({"turn_deg": 5.0}, ())
    assert lamps_allowed({"rim": "on"}, [parse_wish("ears")]) == ({"rim": "on"}, ())


def test_a_background_gets_its_own_light_only_where_the_spill_falls_short():
    dark, bright = Setup(background_stops=-4.0), Setup(background_stops=0.0)
    assert with_background_light(dark, THREE, locked={}).background_light == "off"
    lit = with_background_light(bright, THREE, locked={})
    assert (lit.background_light, lit.background_light_distance_mm) == ("on", 1000.0)
    assert with_background_light(bright, KITS["full-frame-primes"], locked={}) == bright
    assert with_background_light(bright, THREE, locked={"background_light": "off"}) == bright
    fixed = {"background_light": "on", "background_light_distance_mm": 1500.0}
    assert with_background_light(dark, THREE, locked=fixed).background_light_distance_mm == 1500.0
    own = THREE.light_for("background")
    assert with_background_light(bright, THREE, own, locked={}) == bright  # it is taken


def test_a_plan_without_asking_has_none(plan):
    made = plan("forehead", evaluations=FEW, kit=THREE)
    assert {one.setup.rim for one in made.setups} == {"off"}
    assert all("rim light" not in guard.name for one in made.setups for guard in one.guards)


def test_a_plan_that_asks_for_one_places_it_and_says_why(plan):
    made = plan("forehead", evaluations=FEW, kit=THREE, locked={"rim": "on"})
    assert made.baseline.rim == "off"
    for one in made.setups:
        setup = one.setup
        assert setup.rim == "on"
        assert setup.rim_azimuth_deg * setup.key_azimuth_deg <= 0.0
        assert any(note.startswith("The rim light stands behind the sitter") for note in one.notes)
        held = {guard.name: guard.holds for guard in one.guards}
        assert held["rim light off lens"]
        assert held["rim light in room"]


def test_a_plan_for_thinning_hair_refuses_it_with_a_sentence(plan):
    made = plan("thinning-hair", evaluations=FEW, kit=THREE, locked={"rim": "on"})
    assert {one.setup.rim for one in made.setups} == {"off"}
    assert say.NOTE_NO_RIM in made.notes


def test_one_that_is_fixed_where_it_shines_into_the_lens_is_told(plan):
    locked = {"rim": "on", "rim_azimuth_deg": 170.0, "rim_elevation_deg": 15.0}
    made = plan("forehead", evaluations=FEW, kit=THREE, locked=locked)
    for one in made.setups:
        assert any("the rim light would shine into the lens" in note for note in one.notes)
        assert any("where you fixed it" in note for note in one.notes)


def test_a_dark_background_is_where_it_helps_dark_hair(plan):
    dark = {"background_stops": -4.0}
    without = plan("forehead", evaluations=FEW, kit=THREE, locked=dark)
    assert all(say.NOTE_RIM_WOULD_PART in one.notes for one in without.setups)
    with_rim = plan("forehead", evaluations=FEW, kit=THREE, locked=dark | {"rim": "on"})
    assert all(say.NOTE_RIM_PARTS in one.notes for one in with_rim.setups)
    no_lamp = plan("forehead", evaluations=FEW, locked=dark)
    hair = plan("thinning-hair", evaluations=FEW, kit=THREE, locked=dark)
    for made in (no_lamp, hair):
        assert all(say.NOTE_RIM_WOULD_PART not in one.notes for one in made.setups)


def test_its_light_on_an_ear_is_told_to_who_cares_for_ears(plan):
    made = plan("ears", evaluations=FEW, kit=THREE, locked={"rim": "on"})
    assert all(say.NOTE_RIM_EAR in one.notes for one in made.setups)


def test_a_bright_background_gets_the_kits_light(plan):
    made = plan("forehead", evaluations=FEW, kit=THREE, locked={"background_stops": 0.0})
    assert {one.setup.background_light for one in made.setups} == {"on"}


def test_a_kit_without_such_a_light_is_told(plan):
    with pytest.raises(KitError, match=r"has no light to be the rim light; write serves = \[\"rim"):
        plan("ears", evaluations=FEW, locked={"rim": "on"})


def test_one_light_can_not_be_both(plan):
    both = LightSource(
        name="one", size_mm=600.0, distance_mm=(900, 2500), serves=("key", "rim", "background")
    )
    kit = dataclasses.replace(THREE, lights=(both,))
    with pytest.raises(KitError, match="has one light for the key and the rim light; add another"):
        plan("ears", evaluations=FEW, kit=kit, locked={"rim": "on"})
    assert {x.setup.rim for x in plan("ears", evaluations=FEW, kit=kit).setups} == {"off"}


@pytest.mark.parametrize("locked", [{}, {"rim": "on"}])
def test_lights_that_may_not_be_the_key_are_told_from_no_light_at_all(plan, locked):
    behind = dataclasses.replace(THREE, lights=THREE.lights[1:])
    with pytest.raises(
        KitError,
        match="No light of the kit 'three-flashes' may be the key, only rim \\+ background; write",
    ):
        plan("ears", evaluations=FEW, kit=behind, locked=locked)
    window = plan("ears", evaluations=FEW, kit=behind, room=ROOMS["by-a-window"], locked=locked)
    assert {x.setup.rim for x in window.setups} == {locked.get("rim", "off")}


def test_a_room_that_lets_no_light_in_is_told_from_a_kit_without_one(plan):
    closed = dataclasses.replace(STUDIO, kit_lights=False)
    with pytest.raises(
        KitError, match=r"The room 'studio' has no light of its own .* or write kit_lights = true"
    ):
        plan("ears", evaluations=FEW, kit=THREE, room=closed)


def test_a_rim_light_is_fixed_by_the_known_words(plan):
    with pytest.raises(SetupError, match="rim can't be fixed at 'yes'; give off or on"):
        plan("ears", evaluations=FEW, kit=THREE, locked={"rim": "yes"})
