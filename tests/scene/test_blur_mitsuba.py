"""Blur of the features against Mitsuba's thin lens, kept by builders/references/blur.py."""

import json
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.measures import measure
from sitwell.scene.setup import Setup

KEPT = json.loads((Path(__file__).parent / "data" / "blur_mitsuba.json").read_text("utf-8"))
CASES = {f"{case['head']}, {case['setup']}": case for case in KEPT["cases"]}
LEAST_MM = 0.005  # less than a pixel of any camera: sharp


@pytest.mark.parametrize("name", CASES)
def test_features_are_as_blurred_as_traced(name):
    case = CASES[name]
    measures = measure(
        build_head(KEPT["heads"][case["head"]]), Setup(**KEPT["setups"][case["setup"]])
    )
    traced = dict(case["blur_mm"])
    eyes = sorted((traced.pop("iris_own_left"), traced.pop("iris_own_right")))
    assert eyes[0] < LEAST_MM
    assert_allclose(measures["blur_near_eye_mm"], eyes[0], atol=LEAST_MM)
    assert_allclose(measures["blur_far_eye_mm"], eyes[1], rtol=0.05)
    for point, blur_mm in traced.items():
        ours = measures[f"blur_{point.replace('_outer', '')}_mm"]
        assert_allclose(ours, blur_mm, rtol=0.05, atol=LEAST_MM / 10, err_msg=point)
