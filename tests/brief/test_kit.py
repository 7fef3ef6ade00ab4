import math
from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import KitError
from sitwell.brief.kit import (
    APS_C,
    FOUR_THIRDS,
    FULL_FRAME,
    PRESETS,
    SERVES,
    Camera,
    Kit,
    Lens,
    LightSource,
    load_kit,
)

TYPED = """
name = "my bag"
[[camera]]
name = "body"
sensor_mm = [24, 36]
highest_iso = 1600
[[lens]]
name = "zoom"
focal_mm = [24, 70]
widest_f = [2.8, 4]
closest_focus_mm = 380
[[lens]]
focal_mm = 85
widest_f = 1.8
[[light]]
name = "window"
size_mm = 1200
distance_mm = [1000, 2500]
azimuth_deg = -70
elevation_deg = 15
exposure_value = 8.5
[fill]
ratio = [1.5, 6]
"""


@pytest.fixture
def typed(tmp_path):
    def write(text):
        path = tmp_path / "kit.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_a_typed_kit_is_read(typed):
    kit = load_kit(typed(TYPED))
    assert (kit.name, kit.fill_ratio) == ("my bag", (1.5, 6.0))
    assert (kit.cameras[0].sensor_width_mm, kit.cameras[0].sensor_height_mm) == (36.0, 24.0)
    zoom, prime = kit.lenses
    assert not zoom.is_prime()
    assert prime.is_prime()
    assert prime.name == "85 mm"
    assert kit.lights[0].is_fixed()
    assert kit.lights[0].exposure_value == 8.5


@pytest.mark.parametrize("name", PRESETS)
def test_a_preset_is_read_by_name_and_can_take_a_portrait(name):
    kit = load_kit(name)
    assert kit is PRESETS[name]
    assert all(lens.widest_f_at(f) < lens.smallest_f for lens in kit.lenses for f in lens.focal_mm)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("focal_mm = 85", "focal_mm = -85", r"lens 2: focal_mm is -85; keep it within 1..3000"),
        (
            "focal_mm = [24, 70]",
            "focal_mm = [70, 24]",
            r"'zoom': focal_mm is \[70, 24\]; write the",
        ),
        ("widest_f = 1.8", "", "lens 2: widest_f is missing; add it"),
        ("widest_f = 1.8", "widest_f = 0", r"widest_f is 0; keep it within 0\.5\.\.64"),
        ("size_mm = 1200", "size_mm = 0", "light 1 'window': size_mm is 0; give a number above 0"),
        (
            "highest_iso",
            "hihgest_iso",
            "camera 1 'body': 'hihgest_iso' is not a known key; use name",
        ),
        (
            "ratio = [1.5, 6]",
            "ratio = [1, 2, 3]",
            r"ratio is \[1, 2, 3\]; give one number or \[low",
        ),
        ("[[light]]", "[light]", r"write each light under its own \[\[light\]\] line"),
        ("[fill]", "[[fill]]", r"write fill under a line of its own, \[fill\]"),
        ('name = "body"', "name = 3", "camera 1: name is 3; give a name in quotes"),
        ("size_mm = 1200", f"size_mm = 1{'0' * 400}", "size_mm is 10{400}; give a number above 0"),
        ("size_mm = 1200", "size_mm = nan", "size_mm is nan; give a number above 0"),
        ("focal_mm = 85", f"focal_mm = {'9' * 5000}", "not valid TOML: Exceeds the limit"),
        ("focal_mm = 85", f"focal_mm = {'[' * 100_000}", "not valid TOML: maximum recursion"),
        ("focal_mm = 85", "focal_mm = = 85", r"not valid TOML: .*line 13.*; correct that line"),
    ],
)
def test_a_slip_is_named_with_its_place(typed, old, new, message):
    assert old in TYPED
    with pytest.raises(KitError, match=message):
        load_kit(typed(TYPED.replace(old, new)))


def test_a_kit_without_lenses_is_refused(typed):
    with pytest.raises(KitError, match=r"'bare' has no lens; add a \[\[lens\]\]"):
        load_kit(typed('name = "bare"\n[[camera]]\nsensor_mm = [36, 24]\n'))


def test_an_unknown_preset_lists_the_known_ones():
    with pytest.raises(
        KitError, match="'my-bag' is neither a file nor a preset; choose one of full"
    ):
        load_kit("my-bag")


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(KitError, match=r"gone\.toml can't be read"):
        load_kit(tmp_path / "gone.toml")


def test_the_35_mm_equivalent_goes_by_the_diagonal():
    """CIPA DCG-001 by way of its encyclopedia copy: crop factors 1.534 and 1.999."""
    assert_allclose(APS_C.equivalent_mm(1.0), 1.534, atol=1e-3)
    assert_allclose(FOUR_THIRDS.equivalent_mm(1.0), 1.999, atol=1e-3)
    assert FULL_FRAME.equivalent_mm(85.0) == 85.0
    # 25 mm on 30.2 x 16.7 mm is 31.35 mm by the same rule.
    wide = Camera(name="wide", sensor_width_mm=30.2, sensor_height_mm=16.7)
    assert_allclose(wide.equivalent_mm(25.0), 31.35, atol=0.05)


def test_a_zoom_closes_evenly_in_the_logarithm_of_focal_length():
    zoom = Lens(name="z", focal_mm=(18.0, 72.0), widest_f=(2.0, 8.0))
    assert_allclose([zoom.widest_f_at(f) for f in (18.0, 36.0, 72.0)], [2.0, 4.0, 8.0])
    assert_allclose(zoom.widest_f_at(10.0), 2.0)
    middle = zoom.widest_f_at(math.sqrt(18.0 * 36.0))
    assert_allclose(middle, 2.0 * math.sqrt(2.0))


def test_a_zoom_offers_its_ends_and_the_marks_between():
    zoom = Lens(name="z", focal_mm=(24.0, 70.0), widest_f=(2.8, 2.8))
    assert zoom.focal_choices_mm() == (24.0, 28.0, 35.0, 50.0, 55.0, 70.0)
    assert Lens(name="p", focal_mm=(85.0, 85.0), widest_f=(1.8, 1.8)).focal_choices_mm() == (85.0,)


def test_a_kit_without_a_light_is_allowed_because_a_room_may_have_a_window():
    lens = Lens(name="p", focal_mm=(50.0, 50.0), widest_f=(1.8, 1.8))
    assert Kit(name="k", cameras=(FULL_FRAME,), lenses=(lens,)).lights == ()


POWERED = (
    TYPED
    + """
[[light]]
name = "strobe"
size_mm = 900
distance_mm = 1500
watt_seconds = 300
modifier_loss_stops = 1.5
sync_speed_s = "1/200"
"""
)


def test_a_lights_power_is_read(typed):
    window, strobe = load_kit(typed(POWERED)).lights
    assert not window.is_flash()
    assert strobe.is_flash()
    assert (strobe.watt_seconds, strobe.modifier_loss_stops) == (300.0, 1.5)
    assert_allclose(strobe.sync_speed_s, 1 / 200)
    assert_allclose(window.sync_speed_s, 1 / 160)


def test_power_given_twice_is_refused(typed):
    text = POWERED.replace("watt_seconds = 300", "watt_seconds = 300\nlux_at_1m = 900")
    with pytest.raises(KitError, match="'strobe' has watt_seconds and lux_at_1m; give one of them"):
        load_kit(typed(text))


@pytest.mark.parametrize("wrong", ['"1/0"', '"fast"', '"2/160"'])
def test_a_sync_speed_that_is_no_time_is_refused(typed, wrong):
    with pytest.raises(KitError, match=r'sync_speed_s is .*; write it as "1/160" or in seconds'):
        load_kit(typed(POWERED.replace('"1/200"', wrong)))


def test_a_light_serves_as_the_key_unless_the_file_says_otherwise(typed):
    text = TYPED.replace("size_mm = 1200", 'size_mm = 1200\nserves = ["rim", "background", "rim"]')
    assert load_kit(typed(TYPED)).lights[0].serves == ("key",)
    assert load_kit(typed(text)).lights[0].serves == ("rim", "background")
    single = TYPED.replace("size_mm = 1200", 'size_mm = 1200\nserves = "rim"')
    assert load_kit(typed(single)).lights[0].serves == ("rim",)


@pytest.mark.parametrize("serves", ['"hair"', '["key", "fill"]', "[]", "3"])
def test_an_unknown_use_of_a_light_is_refused(typed, serves):
    text = TYPED.replace("size_mm = 1200", f"size_mm = 1200\nserves = {serves}")
    with pytest.raises(KitError, match=r"serves is .*; give one or more of key, rim, background"):
        load_kit(typed(text))


def test_the_light_for_a_use_is_the_one_that_serves_nothing_else():
    all_three = LightSource(name="all", size_mm=1, distance_mm=(1, 2), serves=SERVES)
    rim = LightSource(name="rim", size_mm=1, distance_mm=(1, 2), serves=("rim",))
    kit = replace(PRESETS["small-flash"], lights=(all_three, rim))
    assert kit.light_for("rim") is rim
    assert kit.light_for("rim", rim) is all_three
    assert kit.light_for("background", None) is all_three
    assert kit.light_for("background", all_three) is None


def test_of_two_lights_alike_one_is_left_when_the_other_is_taken():
    one, two = (
        LightSource(name="flash", size_mm=80, distance_mm=(500, 3000), serves=("key", "rim"))
        for _ in range(2)
    )
    kit = replace(PRESETS["small-flash"], lights=(one, two))
    assert kit.light_for("rim", one) is two


def test_the_preset_with_three_flashes_has_one_for_each_use():
    kit = PRESETS["three-flashes"]
    lamps = [kit.light_for(use) for use in SERVES]
    assert len({lamp.name for lamp in lamps}) == 3
    assert all(lamp.watt_seconds for lamp in lamps)
