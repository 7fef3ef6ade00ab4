import pytest

from sitwell.brief.kit import LightSource
from sitwell.scene.setup import Setup
from sitwell.sheet.lamps import rim_power_setting

FLASH = LightSource(
    name="small", size_mm=1.0, distance_mm=(500, 3000), guide_number_m_iso100=24, serves=("rim",)
)
RIM = Setup(rim="on", rim_distance_mm=1500, rim_size_mm=1, f_number=4)


@pytest.mark.parametrize(
    ("changes", "iso", "words"),
    [
        # guide number 24 at 1.5 m is f/16: f/4 takes 1/16
        ({}, 100, "the flash at about 1/16 power, ISO 100"),
        ({"rim_stops": 1}, 100, "the flash at about 1/8 power, ISO 100"),
        ({}, 400, "the flash at about 1/64 power, ISO 400"),
        ({"rim_distance_mm": 3000}, 100, "the flash at about 1/4 power, ISO 100"),
        ({"f_number": 16}, 100, "the flash at full power, ISO 100"),
        (
            {"f_number": 16, "rim_stops": 2},
            100,
            "full power, which lacks 2 stops: bring it nearer, or raise the ISO for all lights",
        ),
        (
            {"rim_stops": -2},
            1600,
            "3 stops too strong at its least: move it off, or put cloth before it",
        ),
    ],
)
def test_the_rim_lights_power(changes, iso, words):
    assert rim_power_setting(RIM.with_changes(**changes), FLASH, iso).value == words


def test_where_the_power_is_not_known_the_guide_number_it_takes_is_told():
    # f/4 at 1.5 m and a little for the face's breadth: 6.1, or 20 in feet; a stop more: 6 * sqrt(2)
    setting = rim_power_setting(RIM, None)
    assert setting.value == "a flash of guide number 6 in metres (20 in feet), or more"
    assert setting.note == "counted at ISO 100, behind its cloth or grid; f/4 at ISO 100"
    unknown = LightSource(name="u", size_mm=1.0, distance_mm=(500, 3000), serves=("rim",))
    brighter = rim_power_setting(RIM.with_changes(rim_stops=1), unknown)
    assert "guide number 8 in metres" in brighter.value
    faster = rim_power_setting(RIM, unknown, 400)
    assert "guide number 3 in metres" in faster.value


def test_a_lamp_that_burns_is_set_by_meter():
    lamp = LightSource(name="l", size_mm=80.0, distance_mm=(500, 3000), lux_at_1m=2000)
    assert rim_power_setting(RIM, lamp).value == "set by its dimmer or its distance, by meter"
