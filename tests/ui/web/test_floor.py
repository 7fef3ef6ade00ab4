"""The plan is to scale, and a thing dragged to where it is drawn stays where it is."""

import math
import re

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.brief.room import PRESETS
from sitwell.scene.setup import Setup
from sitwell.ui.web.curves import curve_svg
from sitwell.ui.web.dragging import dragged_above, dragged_side
from sitwell.ui.web.floor import as_drawn, from_above, from_side

ROOM = PRESETS["studio"]
EYES_MM = 1550.0
setups = st.builds(
    Setup,
    turn_deg=st.floats(-50, 50),
    chin_deg=st.floats(-12, 18),
    camera_height_mm=st.floats(-400, 400),
    distance_mm=st.floats(900, 5000),
    key_azimuth_deg=st.floats(-90, 90),
    key_elevation_deg=st.floats(0, 60),
    key_distance_mm=st.floats(600, 3000),
)


def handle(floor, name):
    return next(h for h in floor.handles if h.id == name)


@given(setups)
def test_dropping_the_key_where_it_stands_moves_nothing(setup):
    key = handle(from_above(setup, ROOM), "key")
    changes = dragged_above(setup, "key", key.x, key.y)
    assert_allclose(changes["key_azimuth_deg"], setup.key_azimuth_deg, atol=1e-6)
    assert_allclose(changes["key_distance_mm"], setup.key_distance_mm, rtol=1e-9)
    key = handle(from_side(setup, ROOM, EYES_MM), "key")
    changes = dragged_side(setup, "key", key.x, key.y)
    assert_allclose(changes["key_elevation_deg"], setup.key_elevation_deg, atol=1e-6)


@given(setups)
def test_dropping_the_camera_where_it_stands_moves_nothing(setup):
    camera = handle(from_above(setup, ROOM), "camera")
    changes = dragged_above(setup, "camera", camera.x, camera.y)
    assert_allclose(changes["distance_mm"], setup.distance_mm, rtol=1e-9)
    camera = handle(from_side(setup, ROOM, EYES_MM), "camera")
    changes = dragged_side(setup, "camera", camera.x, camera.y)
    assert_allclose(changes["distance_mm"], setup.distance_mm, rtol=1e-9)
    assert_allclose(changes["camera_height_mm"], setup.camera_height_mm, atol=1e-6)


def test_camera_right_is_the_pages_right_and_the_camera_is_at_the_foot():
    floor = from_above(Setup(key_azimuth_deg=40.0), ROOM)
    key, camera = handle(floor, "key"), handle(floor, "camera")
    assert key.x > 0
    assert camera.y > key.y > 0
    assert camera.x == 0


def test_the_key_stands_where_trigonometry_puts_it():
    # azimuth 30, elevation 0, 2 m: x = 2000 sin 30 = 1000, z = 2000 cos 30
    key = handle(
        from_above(
            Setup(key_azimuth_deg=30.0, key_elevation_deg=0.0, key_distance_mm=2000.0), ROOM
        ),
        "key",
    )
    assert_allclose([key.x, key.y], [1000.0, 2000.0 * math.cos(math.radians(30.0))], atol=1e-6)


@given(setups)
def test_everything_that_can_be_dragged_lies_on_the_paper(setup):
    for floor in (from_above(setup, ROOM), from_side(setup, ROOM, EYES_MM)):
        x, y, width, height = floor.box
        for thing in floor.handles:
            assert y <= thing.y <= y + height
            assert x <= thing.x <= x + width or abs(thing.x) > ROOM.width_mm / 2


def test_the_scale_stays_while_the_planned_set_ups_fit():
    reach = (Setup(distance_mm=3000.0), Setup(distance_mm=1500.0))
    boxes = {from_above(Setup(distance_mm=d), ROOM, reach).box for d in (1500.0, 2200.0, 3000.0)}
    assert len(boxes) == 1


def test_a_camera_dragged_into_the_face_stops_before_it():
    changes = dragged_above(Setup(), "camera", 0.0, -400.0)
    assert changes["distance_mm"] >= 500.0


def test_a_curve_leaves_a_gap_where_nothing_can_be_told():
    nan = math.nan
    svg = curve_svg([-2, -1, 0, 1, 2], [1, 2, nan, 3, 4], (0.5, 2.5), 2.0, 'a "word"')
    path = re.search(r'class="curve" d="([^"]+)"', svg).group(1)
    assert path.count("M") == 2
    assert "limit" in svg
    assert "&quot;word&quot;" in svg


def test_a_curve_tells_the_ends_of_both_axes():
    says = (lambda value: f"{value:g}°", lambda value: f"{value:g} %")
    svg = curve_svg([-30, 0, 20], [1, 2, 4], (0, 2), None, "", says)
    assert re.findall(r"<text[^>]*>([^<]+)", svg) == ["1 %", "4 %", "-30°", "20°", "0°"]


def test_everybody_is_drawn_from_the_middle_of_their_eyes():
    other = np.array([[500.0, 0.0, 0.0], [700.0, 0.0, 0.0], [600.0, 0.0, 90.0]])
    alone = from_above(Setup(), ROOM)
    together = from_above(Setup(), ROOM, instead=(other,))
    assert alone.ink.count('"head"') == 2
    assert together.ink.count('"head"') == 1
    assert [word.text for word in alone.lettering] == [word.text for word in together.lettering]


def test_a_curve_of_nothing_is_not_drawn():
    assert curve_svg([0, 1], [math.nan, math.nan], (0, math.nan), None, "") == ""


def test_lamps_behind_the_sitter_are_drawn_and_named_only_when_they_are_on():
    plain = from_above(Setup(), ROOM)
    lit = Setup(rim="on", rim_azimuth_deg=-130, background_light="on")
    lamps, side = from_above(lit, ROOM), from_side(lit, ROOM, EYES_MM)
    assert plain.ink.count('class="lamp"') == 0
    assert lamps.ink.count('class="lamp"') == side.ink.count('class="lamp"') == 2
    names = {lettering.text: lettering for lettering in lamps.lettering}
    assert names["rim light"].x < 0  # camera left
    assert names["rim light"].y < 0  # behind the sitter
    assert not {"rim light", "background light"} & {one.text for one in plain.lettering}


def test_a_lamp_far_behind_stands_before_its_background():
    far = Setup(background_light="on", background_distance_mm=7000.0)
    name = next(one for one in from_above(far, ROOM).lettering if one.text == "background light")
    assert -6100.0 < name.y < -5900.0  # one metre before it


OUTDOORS = PRESETS["outdoors"]
SUN = OUTDOORS.daylight.light


def in_the_sun(**changes):
    far = {"key_size_mm": SUN.size_mm, "key_distance_mm": SUN.distance_mm[0]}
    return Setup(**far | {"key_azimuth_deg": 40.0, "key_elevation_deg": 30.0} | changes)


def test_the_sun_is_brought_in_and_has_no_distance():
    floor = from_above(in_the_sun(), OUTDOORS)
    key = handle(floor, "key")
    assert math.hypot(key.x, key.y) < 4000
    assert_allclose(math.degrees(math.atan2(key.x, key.y)), 40, atol=1e-6)
    said = [letter.text for letter in floor.lettering]
    assert "sun" in said
    assert not any("10" in text for text in said)
    assert key.value == "sun 40° camera right, 30° up"
    side = from_side(in_the_sun(), OUTDOORS, EYES_MM)
    assert handle(side, "key").value == key.value
    assert side.box[3] < 6000  # no ceiling 20 m up


def test_a_key_in_the_middle_has_no_side():
    key = handle(from_above(Setup(key_azimuth_deg=0.0), ROOM), "key")
    assert key.value == "key over the lens, 30° up, 1.50 m"


def test_outdoors_there_are_no_walls():
    assert 'class="wall"' not in from_above(in_the_sun(), OUTDOORS).ink
    assert 'class="wall"' in from_above(Setup(), ROOM, whole=True).ink
    floor = from_side(in_the_sun(), OUTDOORS, EYES_MM)
    assert floor.ink.count('class="wall"') == 1  # the ground


def test_outdoors_what_is_far_behind_is_drawn_nearer_and_told_as_it_is():
    far, near = (in_the_sun(background_distance_mm=mm) for mm in (8000.0, 2000.0))
    above, side = from_above(far, OUTDOORS), from_side(far, OUTDOORS, EYES_MM)
    assert above.box[3] < 7000
    assert side.box[2] < 7000
    assert "8.00 m" in [letter.text for letter in above.lettering]
    # two strokes more: the break in the dimension
    kinds = [from_above(setup, OUTDOORS).ink.count('class="thin"') for setup in (far, near)]
    assert kinds[0] == kinds[1] + 2


@given(azimuth=st.floats(-90, 90), elevation=st.floats(10, 45))
def test_dropping_the_sun_where_it_is_drawn_keeps_its_way(azimuth, elevation):
    setup = in_the_sun(key_azimuth_deg=azimuth, key_elevation_deg=elevation)
    key = handle(from_above(setup, OUTDOORS), "key")
    drawn = as_drawn(setup, OUTDOORS, above=True)
    assert_allclose(
        dragged_above(drawn, "key", key.x, key.y)["key_azimuth_deg"], azimuth, atol=1e-6
    )
    key = handle(from_side(setup, OUTDOORS, EYES_MM), "key")
    drawn = as_drawn(setup, OUTDOORS, above=False)
    changes = dragged_side(drawn, "key", key.x, key.y)
    assert_allclose(changes["key_elevation_deg"], elevation, atol=1e-6)


def test_a_lamp_of_the_kit_outdoors_is_drawn_where_it_stands():
    setup = Setup(key_distance_mm=1500, key_azimuth_deg=40)
    assert as_drawn(setup, OUTDOORS, above=True) is setup
    assert "1.50 m" in handle(from_above(setup, OUTDOORS), "key").value


@given(setup=setups)
def test_two_handles_can_always_be_told_apart(setup):
    floor = from_above(setup, ROOM)
    key, camera = floor.handles
    between = math.hypot(camera.x - key.x, camera.y + camera.off - key.y)
    assert between >= 0.099 * floor.box[3]


def test_a_camera_before_its_key_keeps_its_handle_on_the_paper():
    shade = PRESETS["open-shade"]
    light = shade.daylight.light
    far = {"key_size_mm": light.size_mm, "key_distance_mm": light.distance_mm[0]}
    floor = from_above(Setup(key_azimuth_deg=0.0, distance_mm=1560.0, **far), shade)
    key, camera = floor.handles
    assert key.y > camera.y > 0
    assert camera.off < 0
    assert camera.y + camera.off > 0


def test_a_window_s_distance_is_told_on_the_paper():
    room = PRESETS["by-a-window"]
    light = room.daylight.light
    setup = Setup(key_azimuth_deg=-80.0, key_elevation_deg=2.0, key_size_mm=light.size_mm,
                  background_distance_mm=1500.0)  # fmt: skip
    floor = from_above(setup, room)
    said = next(one for one in floor.lettering if one.text == "1.50 m" and one.kind == "key")
    x, _, width, _ = floor.box
    assert said.side == "below"
    assert x + 0.1 * width < said.x < x + 0.9 * width


def test_handles_that_lie_apart_stay_on_their_things():
    floor = from_above(Setup(key_azimuth_deg=60.0), ROOM)
    assert [handle.off for handle in floor.handles] == [0.0, 0.0]
