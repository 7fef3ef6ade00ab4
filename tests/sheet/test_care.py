import pytest

from sitwell.base.errors import SheetError
from sitwell.scene.setup import Setup
from sitwell.sheet.care import LIGHTS, care_notes


def notes(light="", **changes):
    return {note.topic: note.sentence for note in care_notes(Setup(**changes), light)}


@pytest.mark.parametrize("changes", [{"chin_deg": 7.0}, {"turn_deg": 30.0}, {"turn_deg": -30.0}])
def test_a_raised_chin_or_a_turned_neck_asks_first_and_is_not_held(changes):
    found = notes(**changes)
    assert "neck pain and dizziness" in found["neck"]
    assert "No long holds" in found["neck"]
    assert "breath" in found
    assert next(iter(found)) == "neck"


def test_an_easy_pose_needs_no_neck_note():
    assert "neck" not in notes(chin_deg=-3.0, turn_deg=10.0)


def test_flash_asks_about_epilepsy_and_migraine():
    for light in ("", "flash"):
        assert "photosensitive epilepsy and migraine" in notes(light)["flash"]
        assert "No rapid repeated flashing" in notes(light)["flash"]
    assert "flash" not in notes("window")
    assert "flash" not in notes("lamp")


def test_heat_and_windows_belong_to_their_lights():
    assert "hot" in notes("lamp")["lamps"]
    assert "sun" in notes("window")["window"]
    assert "lamps" not in notes("window")


def test_a_key_overhead_asks_for_sandbag_and_tether():
    high = notes(key_distance_mm=2000.0, key_elevation_deg=45.0)
    assert "tether" in high["overhead"]
    assert "stands" not in high
    assert "Sandbag" in notes(key_elevation_deg=10.0)["stands"]


def test_a_high_lens_asks_for_a_step():
    assert "step" in notes(camera_height_mm=400.0)
    assert "step" not in notes(camera_height_mm=-400.0)


@pytest.mark.parametrize("light", LIGHTS)
def test_some_notes_stand_on_every_sheet(light):
    found = notes(light)
    assert "guardian" in found["people"]
    assert "only after a yes" in found["people"]
    assert "biometric" in found["faces"]
    assert "ask a lawyer" in found["faces"]
    assert "manuals" in found["manuals"]
    assert "local electrical and safety codes" in found["manuals"]


def test_an_unknown_light_is_refused():
    with pytest.raises(SheetError, match="'candle' is not known; give one of flash, lamp, window"):
        care_notes(Setup(), "candle")


def test_a_lamp_behind_the_sitter_is_told_of():
    def about_rim(**changes):
        return [n.sentence for n in care_notes(Setup(**changes)) if n.topic == "rim"]

    assert about_rim() == []
    (stand,) = about_rim(rim="on", rim_azimuth_deg=115)
    assert "tell the sitter before they step back" in stand
    (boom,) = about_rim(rim="on", rim_azimuth_deg=180)
    assert "counterweight the boom" in boom


def test_the_sun_is_never_looked_at_and_nobody_waits_in_it():
    found = notes("sun", key_distance_mm=10000.0, key_elevation_deg=40.0)
    assert "Never look at the sun" in found["eyes"]
    assert "never aim a long lens at it" in found["eyes"]
    assert "sun cream" in found["sun"]
    assert "Wind takes stands" in found["outdoors"]
    assert not {"overhead", "stands", "flash", "lamps"} & set(found)
    assert "eyes" not in notes("shade")
    assert "outdoors" in notes("shade")


def test_a_high_window_is_no_boom():
    assert "overhead" not in notes("window", key_distance_mm=2500.0, key_elevation_deg=30.0)
