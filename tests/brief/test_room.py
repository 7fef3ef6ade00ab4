import pytest

from sitwell.base.errors import RoomError
from sitwell.brief.room import PRESETS, load_room

TYPED = """
name = "front room"
depth_mm = 3200
background_distance_mm = 900
ceiling_mm = 2500
width_mm = 3600
background_stops = [-3, -0.5]
[window]
size_mm = 1100
distance_mm = [800, 2000]
azimuth_deg = 75
elevation_deg = 10
"""


@pytest.fixture
def typed(tmp_path):
    def write(text):
        path = tmp_path / "room.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_typed_room_is_read(typed):
    room = load_room(typed(TYPED))
    assert (room.name, room.depth_mm, room.background_stops) == ("front room", 3200.0, (-3.0, -0.5))
    assert room.window is not None
    assert room.window.is_fixed()


@pytest.mark.parametrize("name", PRESETS)
def test_a_preset_is_read_by_name(name):
    assert load_room(name) is PRESETS[name]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("depth_mm = 3200", "depth_mm = 0", "room room.toml: depth_mm is 0; give a number above 0"),
        ("ceiling_mm", "cieling_mm", "'cieling_mm' is not a known key; use name, depth_mm"),
        ("[-3, -0.5]", "[-0.5, -3]", "background_stops .*write the smaller number first"),
        ("size_mm = 1100", "", r"\[window\]: size_mm is missing; add it"),
        ("width_mm = 3600", "width_mm =", "line 6.*; correct that line"),
    ],
)
def test_a_slip_is_named_with_its_place(typed, old, new, message):
    assert old in TYPED
    with pytest.raises(RoomError, match=message):
        load_room(typed(TYPED.replace(old, new)))


def test_an_unknown_preset_lists_the_known_ones():
    with pytest.raises(
        RoomError, match="'attic' is neither a file nor a preset; choose one of stu"
    ):
        load_room("attic")
