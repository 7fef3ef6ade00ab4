import math

import pytest

from sitwell.base.units import length_words, plain_number
from sitwell.scene.setup import Setup
from sitwell.sheet.settings import fill_words, sharp_words, studio_words


def lines(**changes):
    return {setting.name: setting for setting in studio_words(Setup(**changes))}


@pytest.mark.parametrize(
    ("ratio", "words"),
    # Additive 3:1, 5:1 and 9:1 are 1, 2 and 3 stops: "Additive and Source", rangefinderonline.com;
    # photocalcs.pages.dev. 2:1 additive is key equal to fill.
    [
        (3.0, "fill 1 stop below the key"),
        (5.0, "fill 2 stops below the key"),
        (9.0, "fill 3 stops below the key"),
        (2.0, "fill as bright as the key"),
        (1.5, "fill 1 stop above the key"),
        (1.0, "fill alone, no shade side"),
    ],
)
def test_fill_is_said_in_stops_by_the_additive_convention(ratio, words):
    assert fill_words(ratio) == words
    assert "key plus fill" in lines(fill_ratio=ratio)["Fill"].note


def test_the_key_stands_on_the_cameras_side():
    assert lines(key_azimuth_deg=40.0)["Key, place"].value == "camera right, 40° round"
    assert lines(key_azimuth_deg=-40.0)["Key, place"].value == "camera left, 40° round"
    assert lines(key_azimuth_deg=0.0)["Key, place"].value == "straight over the lens"
    level = lines(key_azimuth_deg=0.0, key_elevation_deg=0.0)["Key, place"]
    assert (level.value, level.note) == ("at the lens", "level with the eyes")


def test_the_keys_height_is_the_side_of_a_right_triangle():
    # 1500 mm at 30 degrees: half of it, 750 mm.
    note = lines(key_distance_mm=1500.0, key_elevation_deg=30.0)["Key, place"].note
    assert note == "30° up, 75 cm (30 in) above the eyes"
    assert "below" in lines(key_elevation_deg=-30.0)["Key, place"].note


@pytest.mark.parametrize(
    ("height_mm", "words"),
    [
        (120.0, "12 cm (5 in) above the eye line"),
        (-120.0, "12 cm (5 in) below the eye line"),
        (4.0, "at the eye line"),
    ],
)
def test_the_lens_stands_against_the_eye_line(height_mm, words):
    assert lines(camera_height_mm=height_mm)["Lens height"].value == words


def test_background_and_crop_are_said_in_words():
    found = lines(background_stops=-1.5, background_distance_mm=2500.0, crop="into-forehead")
    assert found["Background"].value == "2.50 m (8 ft 2 in) behind the sitter"
    assert found["Background"].note == "1.5 stops darker than the lit cheek"
    assert lines(background_stops=1.0)["Background"].note == "1 stop brighter than the lit cheek"
    assert lines(background_stops=0.0)["Background"].note == "as bright as the lit cheek"
    assert found["Crop"].value == "head and shoulders, 4:5"
    assert found["Crop"].note.startswith("cut between brow and hairline")


def test_lens_and_distance_carry_their_units():
    found = lines(focal_mm=85.0, f_number=2.8, distance_mm=1800.0)
    assert found["Lens"].value == "85 mm at f/2.8"
    assert found["Distance"].value == "1.80 m (5 ft 11 in)"


def test_lengths_change_unit_at_a_metre():
    assert length_words(250.0) == "25 cm (10 in)"
    assert length_words(1000.0) == "1.00 m (3 ft 3 in)"


def test_numbers_lose_idle_zeros_and_a_minus_before_nothing():
    assert [plain_number(v) for v in (3.0, 2.8, -0.01, 10.0)] == ["3", "2.8", "0", "10"]


def test_a_rim_light_has_lines_of_its_own_only_when_on():
    assert not any("Rim" in name for name in lines())
    on = lines(rim="on", rim_azimuth_deg=-140, rim_stops=1)
    place = on["Rim, place"]
    # 1500 mm at 35 degrees: 860 mm above the eyes
    assert (place.value, place.note) == (
        "camera left, 140° round",
        "35° up, 86 cm (34 in) above the eyes",
    )
    assert on["Rim, distance"].value == "1.50 m (4 ft 11 in), 30 cm (12 in) across"
    assert "off the lens" in on["Rim, distance"].note
    assert on["Rim, level"].value == "1 stop brighter than the lit cheek"
    assert lines(rim="on")["Rim, level"].value == "as bright as the lit cheek"


def test_a_rim_light_over_the_sitters_back_is_told_with_its_boom():
    assert lines(rim="on", rim_azimuth_deg=180)["Rim, place"].note.endswith(", on a boom")


def test_the_backgrounds_own_light_is_told_with_its_place():
    assert "Background light, place" not in lines()
    place = lines(background_light="on")["Background light, place"]
    assert (place.value, place.note) == (
        "1.00 m (3 ft 3 in) from the background",
        "low behind the sitter, out of the picture",
    )
    tight = lines(background_light="on", background_distance_mm=800)["Background light, place"]
    assert tight.note == "beside the sitter, out of the picture"


def test_how_deep_the_picture_is_sharp_is_told():
    # about 2 N c s (s - f) / f^2, with c the diagonal of 36 x 24 mm over 1500 (any optics text)
    setup = Setup(focal_mm=85.0, f_number=2.8, distance_mm=2000.0)
    deep_mm = 2 * 2.8 * (math.hypot(36, 24) / 1500) * 2000 * 1915 / 85**2
    told = sharp_words(setup, {}).value
    assert told.startswith(f"{deep_mm / 10:.1f} cm")
    assert " before the eyes, " in told
    wide = sharp_words(setup.with_changes(focal_mm=18.0, f_number=16.0), {}).value
    assert wide.endswith("and all that is behind them")


def test_what_of_the_face_is_not_sharp_is_named():
    sharp = {"blur_far_eye_coc": 0.4, "blur_nose_tip_coc": 0.9, "blur_ear_own_left_coc": 1.0,
             "blur_ear_own_right_coc": 0.1}  # fmt: skip
    assert sharp_words(Setup(), sharp).note == "both eyes, nose and ears are sharp"
    soft = sharp | {
        "blur_nose_tip_coc": 1.3,
        "blur_ear_own_left_coc": 3.0,
        "ear_show_own_left": 0.02,
    }
    note = "not sharp, focused on the nearer eye: the nose’s tip, the sitter’s own left ear"
    assert sharp_words(Setup(), soft).note == note
    unseen = sharp_words(Setup(), soft | {"ear_show_own_left": 0.0}).note
    assert unseen.endswith(": the nose’s tip")
    assert sharp_words(Setup(), {}).note == ""
