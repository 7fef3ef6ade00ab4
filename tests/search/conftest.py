"""A stand-in for the picture: smooth formulas with the real measures' names, no head behind them.

It has the shape of the trade's rules (turning covers the far ear and brings the nose to the cheek,
chin up shortens the nose and opens the nostrils), so that the planner can be tested fast and
without knowing any face. It proves nothing about real heads.
"""

import numpy as np
import pytest

from sitwell.base.rotations import angles_from_direction, direction_from_angles, rotation_from_pose
from sitwell.brief.wishes import parse_wish
from sitwell.scene.rim import rim_margin_deg
from sitwell.scene.setup import Setup
from sitwell.search.planner import make_plan

SIDES = ("own_left", "own_right")


class StandInEvaluator:
    """Measures by formulas; ``bend`` leans the nose to own left, ``uneven`` closes one eye."""

    def __init__(self, bend=0.02, uneven=0.1, ears=1.0, glasses=False, glare_free_deg=0.0):
        self.bend, self.uneven, self.ears, self.glasses = bend, uneven, ears, glasses
        self.glare_free_deg = glare_free_deg
        self.calls = 0
        self.names = tuple(self._measures(Setup()))

    def evaluate(self, setup):
        self.calls += 1
        return np.array(list(self._measures(setup).values()))

    def _measures(self, s):
        turn, chin, tilt = s.seen_pose_deg()
        way = direction_from_angles(s.key_azimuth_deg, s.key_elevation_deg)
        beside, above = angles_from_direction(
            rotation_from_pose(s.turn_deg, s.chin_deg, s.tilt_deg).T @ way
        )
        m = {}
        m["forehead_share"] = 0.34 - 0.006 * chin + 0.0005 * abs(tilt)
        m["crown_share"] = 0.45 - 0.008 * chin
        m["nose_length"] = 0.42 - 0.006 * chin - 0.0008 * abs(turn) + 12.0 / s.distance_mm
        m["nose_width"] = 0.26 + 10.0 / s.distance_mm - 0.001 * abs(turn)
        m["nose_bend"] = abs(self.bend + 0.0007 * turn)
        m["nose_lean"] = self.bend
        m["nose_break_cheek"] = 0.16 - 0.0045 * abs(turn)
        m["nose_break_lip"] = 0.08 + 0.006 * chin
        m["nose_break_socket"] = 0.12 - 0.002 * abs(turn)
        m["nose_break"] = min(m[f"nose_break_{p}"] for p in ("cheek", "lip", "socket"))
        m["nostril_show"] = 0.004 * np.exp(chin / 7.0)
        for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
            show = 0.03 * self.ears * max(0.0, 1.0 - sign * turn / 26.0)
            m[f"ear_show_{side}"] = show
            m[f"ear_out_{side}"] = 0.08 * self.ears * max(0.0, 1.0 - abs(turn) / 30.0)
            lit = np.cos(np.radians(beside - sign * 80.0))
            m[f"light_ear_{side}_stops"] = 1.5 * lit - 0.4 * np.log2(s.fill_ratio)
            m[f"ear_contrast_{side}"] = m[f"light_ear_{side}_stops"] - s.background_stops - 1.0
            m[f"blur_ear_{side}_share"] = s.focal_mm**2 / s.f_number / s.distance_mm**2
            m[f"eye_open_{side}"] = (
                0.05 * (1 - (self.uneven if sign > 0 else 0)) * (1 - 0.003 * sign * turn)
            )
            m[f"iris_cover_{side}"] = 0.3 + 0.01 * chin
            m[f"white_below_{side}"] = -0.0004 * chin + s.camera_height_mm / 50000.0
            m[f"light_eye_{side}_stops"] = 0.5 * np.cos(np.radians(beside - sign * 15.0)) - 0.3
            m[f"catchlight_{side}"] = float(abs(beside) < 65 and 5 < above < 65)
            m[f"glare_{side}_deg"] = (
                abs(above - chin) + abs(beside) / 4 - 25.0 + self.glare_free_deg
                if self.glasses
                else np.nan
            )
            m[f"light_cheek_{side}_stops"] = 0.6 * lit
        small, large = sorted(m[f"eye_open_{side}"] for side in SIDES)
        m["eye_balance"] = small / large
        m["eye_size"] = 0.02 - 0.0004 * chin + s.camera_height_mm / 2e5
        shows = [m[f"ear_show_{side}"] for side in SIDES]
        shares = [show / (0.03 * self.ears) for show in shows]
        m["ear_sliver"] = max(max(0.0, min(2.5 * s - 0.04, 1.0 - s / 0.85)) for s in shares)
        m["face_breadth"] = 0.75 * np.cos(np.radians(turn)) + 0.05 * np.cos(np.radians(beside))
        m["under_chin"] = 0.10 + 0.004 * chin - 0.001 * s.chin_forward_mm
        m["jaw_edge"] = 0.4 + 0.01 * s.chin_forward_mm + 0.005 * above
        m["near_far_stretch"] = 1.0 + 100.0 / s.distance_mm
        m["rim_flare_deg"] = rim_margin_deg(s) if s.rim == "on" else np.nan
        for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
            shines = s.rim_stops - 2.0 if sign * s.rim_azimuth_deg > 0.0 else -10.0
            m[f"rim_ear_{side}_stops"] = shines if s.rim == "on" else np.nan
        m["blur_near_eye_coc"] = 0.0
        m["blur_far_eye_coc"] = abs(turn) / 10.0 / s.f_number
        m["light_forehead_stops"] = 0.01 * above - 0.02 * chin
        m["light_under_chin_stops"] = -0.02 * above
        m["nose_contrast_stops"] = beside / 20.0
        m["lit_side"] = np.tanh(beside / 30.0)
        m["broadness"] = -np.tanh(beside * turn / 400.0)
        m["skin_relief"] = (0.3 + abs(beside) / 300.0) * np.sqrt(s.key_distance_mm / 1500.0)
        m["crop_clearance"] = 0.05
        return m


@pytest.fixture
def stand_in():
    return StandInEvaluator


ALWAYS_NEW = {"seed", "progress", "stop"}  # asked for to see the search at work


@pytest.fixture(scope="module")
def plans():
    """Every plan that the file's tests have made, by what was asked for."""
    return {}


@pytest.fixture
def plan(plans):
    """Make a plan on a stand-in head, with its own measure names; the same one is made once."""

    def make(*wishes, evaluator=None, **how):
        if evaluator is not None or ALWAYS_NEW & set(how):
            return search(wishes, evaluator, how)
        asked = (wishes, repr(sorted(how.items())))
        if asked not in plans:
            plans[asked] = search(wishes, None, how)
        return plans[asked]

    def search(wishes, evaluator, how):
        evaluator = evaluator or StandInEvaluator()
        parsed = [parse_wish(wish) for wish in wishes]
        return make_plan(evaluator, parsed, measure_names=evaluator.names, **how)

    return make
