"""What photographers say helps, and what it costs: the measures must move that way.

Every direction here is common practice, no source. Only signs are tested, never sizes, on five
quite different heads.
"""

import numpy as np
import pytest

from sitwell.head.surface import build_head
from sitwell.scene.framing import distance_for_framing
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import Evaluator, Measures
from sitwell.scene.setup import Setup

HEADS = {
    "mean": {},
    "long face, leaning nose": {
        "nose_lean": 0.6,
        "nose_hump": 0.4,
        "head_oval": 0.4,
        "chin_height": 0.3,
    },
    "wide ears, round": {"ear_wing": 0.8, "head_round": 0.4, "nose_lean": -0.5},
    "unequal eyes": {"eye_opening_uneven": 0.6, "nose_lean": 0.5, "ear_wing": -0.3},
    "narrow, uneven": {
        "head_width": -0.4,
        "eye_opening_uneven": -0.5,
        "nose_forward": 0.3,
        "nose_lean": -0.6,
    },
}
LEANING = [name for name, shape in HEADS.items() if "nose_lean" in shape]
UNEQUAL = [name for name, shape in HEADS.items() if "eye_opening_uneven" in shape]
PLAIN = Setup()
NOTHING_SHOWS = 1e-4  # of the face's area: a pixel or two where ear and cheek grow together

_evaluators = {}


def see(name, **changes):
    if name not in _evaluators:
        _evaluators[name] = Evaluator(build_head(HEADS[name]), Glasses())
    return Measures(_evaluators[name].evaluate(PLAIN.with_changes(**changes)))


def rises(name, measure, fewer, more):
    assert see(name, **more)[measure] > see(name, **fewer)[measure]


def lean_side(name):
    """+1 when the nose leans to the sitter's own left."""
    return np.sign(HEADS[name]["nose_lean"])


def small_eye_side(name):
    front = see(name)
    return 1 if front["eye_open_own_left"] < front["eye_open_own_right"] else -1


def side_word(sign):
    return "own_left" if sign > 0 else "own_right"


every_head = pytest.mark.parametrize("name", HEADS)
leaning_heads = pytest.mark.parametrize("name", LEANING)
unequal_heads = pytest.mark.parametrize("name", UNEQUAL)
both_turns = pytest.mark.parametrize("turn_deg", [-24, 24])


class TestForehead:
    @every_head
    @pytest.mark.parametrize("measure", ["forehead_share", "crown_share", "nose_length"])
    def test_chin_up_shortens(self, name, measure):
        rises(name, measure, {"chin_deg": 8}, {})
        rises(name, measure, {}, {"chin_deg": -8})

    @every_head
    @pytest.mark.parametrize("measure", ["forehead_share", "crown_share", "nose_length"])
    def test_lower_camera_shortens(self, name, measure):
        rises(name, measure, {"camera_height_mm": -300}, {})
        rises(name, measure, {}, {"camera_height_mm": 300})

    @every_head
    @pytest.mark.parametrize("cost", ["nostril_show", "under_chin"])
    def test_chin_up_costs(self, name, cost):
        rises(name, cost, {}, {"chin_deg": 10})

    @every_head
    @pytest.mark.parametrize("cost", ["nostril_show", "under_chin"])
    def test_lower_camera_costs(self, name, cost):
        rises(name, cost, {}, {"camera_height_mm": -350})

    @every_head
    def test_both_good_crops_keep_clear_and_air_is_above_a_whole_head(self, name):
        for framing in ("tight-head", "head-and-shoulders"):
            whole = see(name, framing=framing)
            assert whole["crop_clearance"] > 0
            assert whole["head_room_share"] > 0
            inside = see(name, framing=framing, crop="into-forehead")
            assert inside["crop_clearance"] > 0
            assert inside["head_room_share"] < 0


class TestNose:
    @every_head
    def test_more_distance_shortens_it(self, name):
        rises(name, "nose_length", {"distance_mm": 2500}, {"distance_mm": 800})

    @every_head
    def test_nearer_it_is_wider_against_the_face(self, name):
        rises(name, "nose_width", {"distance_mm": 2500}, {"distance_mm": 800})

    @leaning_heads
    @pytest.mark.parametrize("turn_deg", [5, 10, 20])
    def test_turning_opposite_to_the_lean_straightens_it(self, name, turn_deg):
        opposite = -lean_side(name) * turn_deg
        rises(name, "nose_bend", {"turn_deg": opposite}, {})

    @leaning_heads
    @pytest.mark.parametrize("turn_deg", [5, 10, 20])
    def test_turning_toward_the_lean_bends_it(self, name, turn_deg):
        rises(name, "nose_bend", {}, {"turn_deg": lean_side(name) * turn_deg})

    @leaning_heads
    def test_lean_has_the_sign_of_the_side_in_every_pose(self, name):
        for turn_deg in (-30, 0, 30):
            seen = see(name, turn_deg=turn_deg)["nose_lean"]
            assert np.sign(seen) == lean_side(name)

    @leaning_heads
    @pytest.mark.parametrize("azimuth_deg", [40, 60])
    def test_key_opposite_to_the_lean_models_it_less(self, name, azimuth_deg):
        toward = lean_side(name) * azimuth_deg
        rises(
            name,
            "nose_contrast_stops",
            {"key_azimuth_deg": -toward},
            {"key_azimuth_deg": toward},
        )

    @every_head
    def test_turning_far_pushes_it_to_the_cheek_line(self, name):
        for sign in (-1, 1):
            rises(name, "nose_break_cheek", {"turn_deg": 40 * sign}, {"turn_deg": 15 * sign})
            rises(name, "nose_break_socket", {"turn_deg": 40 * sign}, {"turn_deg": 15 * sign})
            assert see(name, turn_deg=70 * sign)["nose_break_cheek"] < 0

    @every_head
    def test_chin_down_brings_it_to_the_lip(self, name):
        rises(name, "nose_break_lip", {"chin_deg": -12}, {"chin_deg": 12})


class TestEars:
    @every_head
    @pytest.mark.parametrize("sign", [-1, 1])
    def test_far_ear_goes_and_is_a_sliver_before_it_is_gone(self, name, sign):
        far = f"ear_show_{side_word(sign)}"
        turns_deg = np.arange(0, 50, 2)
        seen = [see(name, turn_deg=float(sign * turn)) for turn in turns_deg]
        shows = np.array([s[far] for s in seen])
        slivers = np.array([s["ear_sliver"] for s in seen])
        gone = int(np.argmax(shows < NOTHING_SHOWS))
        assert shows[0] > NOTHING_SHOWS
        assert gone > 0
        assert (shows[gone:] < NOTHING_SHOWS).all()
        assert slivers[:gone].max() > 0.4
        assert (slivers[gone:] < 0.01).all()
        assert slivers[0] == 0

    @every_head
    @pytest.mark.parametrize("sign", [-1, 1])
    def test_what_is_left_of_an_ear_beside_the_face_is_a_sliver_down_to_a_thin_rim(
        self, name, sign
    ):
        side = side_word(sign)
        front = see(name)[f"ear_show_{side}"]
        for turn_deg in np.arange(0, 50, 1.0):
            seen = see(name, turn_deg=sign * float(turn_deg))
            show, out = seen[f"ear_show_{side}"], seen[f"ear_out_{side}"]
            if show >= 0.85 * front or (show <= 0.0005 and out <= 0.003):
                assert seen["ear_sliver"] == 0
            else:
                assert seen["ear_sliver"] > 0

    @every_head
    @both_turns
    def test_turning_swells_the_near_ear(self, name, turn_deg):
        near = f"ear_show_{side_word(-turn_deg)}"
        rises(name, near, {}, {"turn_deg": turn_deg})

    @every_head
    @pytest.mark.parametrize("side", ["own_left", "own_right"])
    def test_nearer_with_a_shorter_lens_shrinks_the_ears(self, name, side):
        long, short = same_framing(135), same_framing(50)
        rises(name, f"ear_show_{side}", short, long)
        rises(name, f"ear_out_{side}", short, long)

    @every_head
    def test_nearer_with_a_shorter_lens_stretches(self, name):
        rises(name, "near_far_stretch", same_framing(135), same_framing(50))

    @every_head
    def test_85_mm_at_f_2_5_leaves_eyes_sharp_and_ears_soft(self, name):
        seen = see(name, **same_framing(85), f_number=2.5)
        for place in ("near_eye", "far_eye"):
            assert seen[f"blur_{place}_coc"] <= 1
        for side in ("own_left", "own_right"):
            assert seen[f"blur_ear_{side}_coc"] > 1

    @every_head
    def test_a_wider_aperture_softens_the_ears(self, name):
        rises(name, "blur_ear_own_left_share", {"f_number": 8}, {"f_number": 2})

    @every_head
    @both_turns
    def test_short_light_darkens_the_near_ear(self, name, turn_deg):
        near = f"light_ear_{side_word(-turn_deg)}_stops"
        short, broad = 45 * np.sign(turn_deg), -45 * np.sign(turn_deg)
        rises(
            name,
            near,
            {"turn_deg": turn_deg, "key_azimuth_deg": short},
            {"turn_deg": turn_deg, "key_azimuth_deg": broad},
        )

    @every_head
    def test_a_darker_background_lets_the_ear_stand_off(self, name):
        for side in ("own_left", "own_right"):
            contrast = f"ear_contrast_{side}"
            rises(name, contrast, {"background_stops": 0}, {"background_stops": -2})


class TestEyes:
    @unequal_heads
    @pytest.mark.parametrize("turn_deg", [10, 20])
    def test_smaller_eye_nearer_evens_them(self, name, turn_deg):
        # turning to the own left brings the own right side nearer
        toward_camera = -small_eye_side(name) * turn_deg
        rises(name, "eye_balance", {}, {"turn_deg": toward_camera})
        rises(name, "eye_balance", {"turn_deg": -toward_camera}, {})

    # A squint of both eyes evens them on people, whose lids close toward one narrow slit; the
    # head's squint takes the same amount off both openings, so it shows for one eye only.
    @unequal_heads
    def test_a_light_squint_of_the_larger_eye_evens_them(self, name):
        squint = {f"eye_squint_{side_word(-small_eye_side(name))}": 0.3}
        squinting = Evaluator(build_head(HEADS[name], squint)).evaluate(PLAIN)
        assert Measures(squinting)["eye_balance"] > see(name)["eye_balance"]

    @every_head
    @pytest.mark.parametrize(
        "move",
        [{"chin_deg": -8}, {"camera_height_mm": 300}, {"chin_forward_mm": 25, "chin_deg": -8}],
    )
    def test_chin_down_or_higher_camera_opens_them(self, name, move):
        rises(name, "eye_size", {}, move)
        for side in ("own_left", "own_right"):
            rises(name, f"white_below_{side}", {}, move)


class TestJawAndFace:
    @every_head
    @pytest.mark.parametrize(
        "move", [{"chin_forward_mm": 25, "chin_deg": -5}, {"camera_height_mm": 300}]
    )
    def test_chin_forward_and_down_or_higher_camera_tightens_the_jaw(self, name, move):
        rises(name, "under_chin", move, {})
        rises(name, "forehead_share", {}, move)

    @every_head
    @pytest.mark.parametrize("height_mm", [-150, -75])
    def test_chin_forward_and_down_sharpens_the_jaws_edge(self, name, height_mm):
        low = {"camera_height_mm": height_mm}
        rises(name, "jaw_edge", low, {**low, "chin_forward_mm": 25, "chin_deg": -5})

    @every_head
    def test_a_higher_key_shades_under_the_jaw(self, name):
        low = {"camera_height_mm": -200}
        rises(
            name,
            "light_under_chin_stops",
            {**low, "key_elevation_deg": 45},
            {**low, "key_elevation_deg": 0},
        )

    @every_head
    @both_turns
    def test_turning_narrows_the_face(self, name, turn_deg):
        rises(name, "face_breadth", {"turn_deg": turn_deg}, {})

    @every_head
    @both_turns
    def test_broad_and_short_light(self, name, turn_deg):
        side = np.sign(turn_deg)
        short = see(name, turn_deg=turn_deg, key_azimuth_deg=60 * side)
        broad = see(name, turn_deg=turn_deg, key_azimuth_deg=-60 * side)
        assert short["broadness"] < 0 < broad["broadness"]


class TestLight:
    @every_head
    def test_butterfly_falls_straight_under_the_nose(self, name):
        seen = see(name, key_azimuth_deg=0, key_elevation_deg=50)
        assert abs(seen["nose_shadow_angle_deg"]) < 5
        assert abs(seen["lit_side"]) < 0.1

    @every_head
    @pytest.mark.parametrize("sign", [-1, 1])
    def test_loop_falls_down_and_away_from_the_key(self, name, sign):
        seen = see(name, key_azimuth_deg=35.0 * sign, key_elevation_deg=40)
        assert 15 < -sign * seen["nose_shadow_angle_deg"] < 75
        assert sign * seen["lit_side"] > 0

    @every_head
    @pytest.mark.parametrize("sign", [-1, 1])
    def test_split_lights_one_half(self, name, sign):
        seen = see(name, key_azimuth_deg=90.0 * sign, key_elevation_deg=0)
        assert sign * seen["lit_side"] > 0.9

    @every_head
    @pytest.mark.parametrize("sign", [-1, 1])
    def test_both_eyes_catch_the_key_at_the_usual_hour(self, name, sign):
        seen = see(name, key_azimuth_deg=25.0 * sign, key_elevation_deg=30)
        for side in ("own_left", "own_right"):
            assert seen[f"catchlight_{side}"] == 1
            hour = seen[f"catchlight_clock_{side}"]
            assert (1 <= hour <= 2) if sign > 0 else (10 <= hour <= 11)

    @pytest.mark.parametrize("sign", [-1, 1])
    def test_a_key_45_degrees_up_still_catches_both_eyes(self, sign):
        seen = see("mean", key_azimuth_deg=30.0 * sign, key_elevation_deg=45)
        for side in ("own_left", "own_right"):
            assert seen[f"catchlight_{side}"] == 1
            hour = seen[f"catchlight_clock_{side}"]
            assert (1 <= hour <= 2) if sign > 0 else (10 <= hour <= 11)

    def test_the_upper_lid_takes_a_high_small_light_before_a_large_one(self):
        high = {"key_azimuth_deg": 0, "key_elevation_deg": 45}
        small = see("mean", **high, key_size_mm=50)
        large = see("mean", **high, key_size_mm=1500)
        for side in ("own_left", "own_right"):
            assert small[f"catchlight_{side}"] == 0
            assert large[f"catchlight_{side}"] == 1

    @every_head
    def test_a_light_from_behind_catches_no_eye(self, name):
        seen = see(name, key_azimuth_deg=130, key_elevation_deg=10)
        assert seen["catchlight_own_left"] == seen["catchlight_own_right"] == 0

    @every_head
    def test_a_larger_nearer_or_less_raking_key_smooths_skin(self, name):
        rises(name, "skin_relief", {"key_size_mm": 1500}, {"key_size_mm": 300})
        rises(name, "skin_relief", {"key_distance_mm": 900}, {"key_distance_mm": 3000})
        rises(name, "skin_relief", {"key_azimuth_deg": 15}, {"key_azimuth_deg": 75})

    @every_head
    def test_more_fill_smooths_skin_and_nose(self, name):
        rises(name, "skin_relief", {"fill_ratio": 2}, {"fill_ratio": 8})
        rises(name, "nose_contrast_stops", {"fill_ratio": 2}, {"fill_ratio": 8})

    @every_head
    @pytest.mark.parametrize("side", ["own_left", "own_right"])
    def test_glasses_clear_with_chin_down_key_higher_or_wider(self, name, side):
        glare = f"glare_{side}_deg"
        frontal = {"key_azimuth_deg": 0, "key_elevation_deg": 15}
        rises(name, glare, frontal, {**frontal, "chin_deg": -8})
        rises(name, glare, frontal, {**frontal, "key_elevation_deg": 45})
        rises(name, glare, frontal, {**frontal, "key_azimuth_deg": 60})


def same_framing(focal_mm):
    lens = PLAIN.with_changes(focal_mm=focal_mm)
    return {"focal_mm": focal_mm, "distance_mm": distance_for_framing(lens)}
