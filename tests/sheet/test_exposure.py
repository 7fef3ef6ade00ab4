import pytest

from sitwell.brief.kit import FULL_FRAME, LightSource
from sitwell.scene.exposure import Exposure, expose
from sitwell.scene.setup import Setup
from sitwell.sheet.exposure import (
    background_setting,
    exposure_setting,
    exposure_words,
    power_words,
    shutter_words,
)

PLAIN = {
    "f_number": 4.0,
    "iso": 200.0,
    "shutter_s": 1 / 160,
    "power": 0.12,
    "short_stops": 0.0,
    "over_stops": 0.0,
    "by_hand_s": 1 / 125,
}
SMALL = LightSource(name="small", size_mm=80, distance_mm=(500, 3000), guide_number_m_iso100=16)


def test_a_flash_in_words():
    words = exposure_words(Exposure(**PLAIN))
    assert words == "f/4, ISO 200, 1/160 s: the flash at about 1/8 power"


def test_a_light_that_burns_in_words():
    assert exposure_words(Exposure(**PLAIN | {"power": None})) == "f/4, ISO 200, 1/160 s"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (1 / 163, "1/160 s"),
        (1 / 128, "1/125 s"),
        (0.124, "1/8 s"),
        (1.1, "1 s"),
        (1e-5, "1/8000 s"),
    ],
)
def test_times_are_a_cameras(seconds, words):
    assert shutter_words(seconds) == words


@pytest.mark.parametrize(
    ("power", "words"),
    [
        (1.0, "full power"),
        (0.8, "full power"),
        (0.4, "about 1/2 power"),
        (0.015, "about 1/64 power"),
    ],
)
def test_powers_are_a_flashs(power, words):
    assert power_words(power) == words


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"short_stops": 2.0, "power": 1.0}, "The flash lacks 2 stops: bring it nearer"),
        ({"over_stops": 1.0}, "The flash is 1 stop too strong at its least"),
        ({"short_stops": 1.5, "power": None}, "The light lacks 1.5 stops for a picture by hand"),
        ({"over_stops": 3.0, "power": None}, "The light is 3 stops too strong: a grey filter"),
        ({"room_stops": 2.0}, "The room's light is only 2 stops under the flash"),
        ({"room_stops": 6.0}, "meter it before the sitter comes"),
        ({}, "meter it before the sitter comes"),
    ],
)
def test_what_the_light_cant_give_is_said(changes, said):
    assert said in exposure_setting(Exposure(**PLAIN | changes)).note


def test_a_metered_light_that_does_needs_no_word():
    assert exposure_setting(Exposure(**PLAIN | {"power": None})).note == ""


def test_from_a_set_up_to_the_line():
    setting = exposure_setting(expose(Setup(), SMALL, FULL_FRAME))
    assert setting.name == "Exposure"
    assert setting.value.startswith("f/4, ISO 100, 1/160 s: the flash at about 1/")


def test_the_backgrounds_tone_by_spill():
    # a key in front at 1.5 m, the background 2 m behind: 2.44 stops under; ratio 3 takes 0.58
    setup = Setup(key_azimuth_deg=0, key_elevation_deg=0, background_stops=-3.0)
    assert background_setting(setup).value == "the key's spill"
    brighter = background_setting(setup.with_changes(background_stops=-5))
    assert "2 stops brighter than planned" in brighter.note


def test_the_backgrounds_own_light():
    setup = Setup(key_azimuth_deg=0, key_elevation_deg=0, background_stops=0.0)
    unknown = background_setting(setup)
    assert unknown.value == "a light of its own"
    assert "3 stops darker than planned" in unknown.note
    assert background_setting(setup, own=SMALL).value == "a light of its own at about 1/16 power"
    weak = background_setting(setup.with_changes(f_number=16), own=SMALL, own_distance_mm=2000)
    # two stops at full tone; the spill, 3.02 stops under, gives an eighth of it: log2(4 * 0.877)
    assert weak.value == "a light of its own, which lacks 1.8 stops: bring it nearer"


def test_a_key_that_never_reaches_the_background_needs_its_own_light():
    setting = background_setting(Setup(key_azimuth_deg=175, key_elevation_deg=0))
    assert (setting.value, setting.note) == ("a light of its own", "")


def test_a_background_flash_that_can_not_be_dimmed_enough_is_told():
    # guide number 16 at 1 m is f/16: f/1.4 at full tone, less an eighth of spill, takes 1/149
    setup = Setup(key_azimuth_deg=0, key_elevation_deg=0, background_stops=0.0, f_number=1.4)
    value = background_setting(setup.with_changes(background_stops=-2.0), own=SMALL).value
    assert value.startswith("a light of its own, ")
    assert "too strong at its least: move it off" in value
    assert "too strong" not in background_setting(setup, own=SMALL).value


@pytest.mark.parametrize(
    ("light", "said"),
    [
        ("sun", "For a clear sky: meter the light on the face; thin cloud takes about a stop."),
        ("shade", "For a clear sky: meter the light on the face, again whenever the sky changes."),
        ("window", "Meter the light on the face, again whenever the sky changes."),
        ("lamp", ""),
    ],
)
def test_daylight_is_always_metered(light, said):
    assert exposure_setting(Exposure(**PLAIN | {"power": None}), light).note == said
    strong = exposure_setting(Exposure(**PLAIN | {"power": None, "over_stops": 2.0}), light).note
    assert strong.startswith("The light is 2 stops too strong")
    assert strong.endswith(said)
