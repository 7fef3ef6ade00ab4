"""What kit and room leave to the hand on the pages."""

from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from sitwell.brief.room import PRESETS
from sitwell.brief.wishes import parse_wish
from sitwell.scene.setup import Setup
from sitwell.scene.window import elevation_at_deg
from sitwell.ui.web import brief
from sitwell.ui.web.paper import SitterNote, Sitting


def by_window():
    light = PRESETS["by-a-window"].daylight.light
    sitting = Sitting(id="x", room="by-a-window", sitters=[SitterNote(limits=["seated"])])
    return sitting, light, Setup(key_size_mm=light.size_mm, key_distance_mm=1500.0)


def test_nearer_to_a_window_its_light_comes_from_higher():
    sitting, light, setup = by_window()
    moved = brief.carried(sitting, setup, {"key_distance_mm": 900.0})
    rise_mm = light.middle_mm - 1200.0
    assert_allclose(moved["key_elevation_deg"], elevation_at_deg(rise_mm, 900.0))
    assert brief.carried(sitting, setup, {"turn_deg": 5.0}) == {"turn_deg": 5.0}
    reach = brief.reaches(sitting, setup)["key_elevation_deg"]
    assert reach.low == reach.high == setup.key_elevation_deg


def test_a_key_on_a_stand_keeps_its_height_when_it_is_moved_away():
    changes = {"key_distance_mm": 900.0}
    assert brief.carried(Sitting(id="x"), Setup(), changes) == changes


def test_a_wish_whose_way_nobody_told_is_left_out_and_named():
    sitter = SitterNote(wishes={"face-width": ["", 2], "smile": ["fuller-own-right", 3]})
    assert brief.wishes_of(sitter) == (parse_wish("smile:fuller-own-right:3"),)
    assert brief.undecided(sitter) == ("face-width",)


@pytest.mark.parametrize("room", PRESETS)
def test_every_room_has_a_set_up_to_draw(room):
    sitting = Sitting(id="x", room=room)
    setup = brief.usual_setup(sitting)
    light = brief.light_for(brief.kit_of(sitting), brief.room_of(sitting), setup)
    assert setup.key_size_mm == light.size_mm
    assert set(brief.reaches(sitting, setup)) >= {"key_azimuth_deg", "fill_ratio"}
    # and what is changed by hand in a room is kept and read back
    brief.keep_room(sitting, brief.room_of(sitting))
    changed = replace(brief.room_of(sitting), depth_mm=5555.0)
    brief.keep_room(sitting, changed)
    assert brief.room_of(sitting) == changed
