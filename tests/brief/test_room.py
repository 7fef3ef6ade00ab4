import pytest

from sitwell.base.errors import RoomError
from sitwell.brief.kit import DEFAULT_KIT, Kit
from sitwell.brief.room import PRESETS, key_light, lights_of, load_room

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
    assert room.daylight.light.is_fixed()
    assert room.daylight.light.kind() == "window"
    assert (room.kit_lights, room.outdoors) == (True, False)


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


OPENING = """
name = "kitchen"
kit_lights = false
[window]
width_mm = 1400
height_mm = 1500
sill_mm = 800
bearing_deg = 360
exposure_value = 8.5
"""


def test_a_window_typed_by_its_opening_can_be_walked_round(typed):
    light = load_room(typed(OPENING)).daylight.light
    assert (light.kind(), light.azimuth_deg, light.middle_mm) == ("window", (-90, 90), 1550)
    assert light.distance_mm == (700, 2500)
    assert light.exposure_value == 8.5
    # the disc of the opening's area: pi / 4 of its diameter squared is 1.4 by 1.5 m
    assert light.size_mm**2 * 3.14159 / 4 == pytest.approx(1400 * 1500, rel=1e-5)


def test_a_sunlit_place_has_no_walls_and_no_stands(typed):
    room = load_room(typed("[sun]\nelevation_deg = 25\nbearing_deg = 213\nunfilled_ratio = 5"))
    assert (room.outdoors, room.kit_lights) == (True, False)
    assert room.depth_mm == PRESETS["outdoors"].depth_mm
    assert room.daylight.light.elevation_deg == (25, 25)
    assert (room.daylight.bearing_deg, room.daylight.unfilled_ratio) == (213, 5)
    assert room.daylight.light.kind() == "sun"


def test_shade_is_large_and_soft_where_the_sun_is_small_and_hard(typed):
    shade = load_room(typed("[shade]\nbearing_deg = 10")).daylight.light
    sun = PRESETS["outdoors"].daylight.light
    assert shade.kind() == "shade"
    assert shade.size_mm / shade.distance_mm[0] > 50 * sun.size_mm / sun.distance_mm[0]


def test_the_kits_lights_stay_at_home_where_they_are_no_key():
    assert lights_of(DEFAULT_KIT, PRESETS["studio"]) == DEFAULT_KIT.lights
    for name, kind in (("by-a-window", "window"), ("outdoors", "sun"), ("open-shade", "shade")):
        (light,) = lights_of(DEFAULT_KIT, PRESETS[name])
        assert light.kind() == kind
        assert key_light(DEFAULT_KIT, PRESETS[name], 12.3) is light


def test_a_room_with_a_window_offers_it_beside_the_kits_lights(typed):
    room = load_room(typed(TYPED))
    assert lights_of(DEFAULT_KIT, room) == (*DEFAULT_KIT.lights, room.daylight.light)
    bare = Kit(name="bare", cameras=DEFAULT_KIT.cameras, lenses=DEFAULT_KIT.lenses)
    assert key_light(bare, room, 900.0) is room.daylight.light


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[sun]\n[shade]", r"there are \[sun\] and \[shade\]; a sitter has one key, keep one"),
        ("[sun]\nelevation_deg = 95", r"\[sun\]: elevation_deg is 95; keep it within 1..89"),
        ("[sun]\nazimuth_deg = 20", "'azimuth_deg' is not a known key; use elevation_deg, bea"),
        ("[shade]\nbearing_deg = -20", "bearing_deg is -20; keep it within 0..360"),
        ("[sun]\nunfilled_ratio = 1", "unfilled_ratio is 1; give a number above 1"),
        ("[window]\nheight_mm = 900", r"\[window\]: width_mm is missing; add it"),
        ('kit_lights = "no"', "kit_lights is 'no'; write true or false"),
    ],
)
def test_a_slip_in_a_places_light_is_named(typed, text, message):
    with pytest.raises(RoomError, match=message):
        load_room(typed(text))
