"""Light on the features against Mitsuba's, whose numbers builders/references/light.py keeps.

Mitsuba traces every ray to the whole disc and to all of the sky around; we blend shadow maps, take
five points of the disc and 74 directions of the sky.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator, Measures
from sitwell.scene.setup import Setup

KEPT = json.loads((Path(__file__).parent / "data" / "light_mitsuba.json").read_text("utf-8"))
CASES = {f"{case['head']}, {case['setup']}": case for case in KEPT["cases"]}
STOP = 1.0
SKIN = (
    "forehead",
    "nose_ridge",
    "nose_side_own_left",
    "nose_side_own_right",
    "cheek_own_left",
    "cheek_own_right",
    "chin",
)
# the lids' shade on an eye is the coarsest of our shadows
WITHIN = dict.fromkeys(SKIN, 0.05 * STOP) | {
    "under_chin": 0.14 * STOP,
    "eye_own_left": 0.15 * STOP,
    "eye_own_right": 0.15 * STOP,
}
# beyond two stops under the face, a hundredth of the key that our blending lets through tells
EAR, EAR_DEEP = 0.10 * STOP, 0.33 * STOP
DEEP_SHADE = -2.0 * STOP
EDGE = 0.03  # face heights
# where the key skims the face the nose's shadow runs into the cheek's own shade and has no end
NO_EDGE = ("split", "broad")


@pytest.fixture(scope="module")
def evaluators():
    return {name: Evaluator(build_head(shape)) for name, shape in KEPT["heads"].items()}


def ours(evaluators, case):
    setup = Setup(**KEPT["setups"][case["setup"]])
    return Measures(evaluators[case["head"]].evaluate(setup))


@pytest.mark.parametrize("name", CASES)
def test_features_are_as_bright_as_traced(evaluators, name):
    measures = ours(evaluators, CASES[name])
    for feature, traced in CASES[name]["direct"]["stops"].items():
        within = WITHIN.get(feature, EAR_DEEP if traced < DEEP_SHADE else EAR)
        off = measures[f"light_{feature}_stops"] - traced
        assert abs(off) < within, f"{feature} {off:+.3f} stops"


def test_skin_agrees_to_a_fortieth_of_a_stop_on_the_whole(evaluators):
    offs = [
        ours(evaluators, case)[f"light_{feature}_stops"] - case["direct"]["stops"][feature]
        for case in CASES.values()
        for feature in SKIN
        if feature in case["direct"]["stops"]
    ]
    assert len(offs) > 100
    assert math.sqrt(np.mean(np.square(offs))) < 0.025 * STOP


@pytest.mark.parametrize("name", [n for n, c in CASES.items() if c["setup"] not in NO_EDGE])
def test_the_noses_shadow_ends_where_it_is_traced(evaluators, name):
    length = ours(evaluators, CASES[name])["nose_shadow_length"]
    assert_allclose(length, CASES[name]["nose_shadow_length"], atol=EDGE)


def test_what_skin_returns_to_skin_changes_little():
    # neglected by our light: this is how much, for skin that returns half of the light
    gained = {
        feature: max(
            abs(case["bounced"]["stops"][feature] - direct)
            for case in CASES.values()
            for name, direct in case["direct"]["stops"].items()
            if name == feature
        )
        for feature in ("cheek_own_left", "forehead", "nose_side_own_left", "ear_own_left")
    }
    assert gained["cheek_own_left"] < 0.02 * STOP
    assert gained["forehead"] < 0.03 * STOP
    assert gained["nose_side_own_left"] < 0.15 * STOP
    assert gained["ear_own_left"] < 0.20 * STOP
