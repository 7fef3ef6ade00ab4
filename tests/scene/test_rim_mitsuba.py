"""A rim light against Mitsuba's, whose numbers builders/references/rim.py keeps.

Mitsuba traces rays to the whole disc past head and body; we blend shadow maps of the head and cast
one of head and body for the shoulders.
"""

import json
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.measures import Evaluator, Measures
from sitwell.scene.setup import Setup

KEPT = json.loads((Path(__file__).parent / "data" / "rim_mitsuba.json").read_text("utf-8"))
CASES = {case["head"]: case for case in KEPT["cases"]}
WITHIN = 0.15  # stops
# An ear that key and fill leave in its own deep shade: their error, the same without a rim light
# (tests/scene/test_light_mitsuba.py).
EAR_SHADED, DEEP_SHADE = 0.45, -1.3
FAINT, FAINT_WITHIN = -4.5, 0.01  # less light than this is held to a hundredth of the lit cheek's
SIDES = ("own_left", "own_right")


@pytest.fixture(scope="module")
def measured():
    return {
        head: Measures(Evaluator(build_head(KEPT["heads"][head])).evaluate(Setup(**case["setup"])))
        for head, case in CASES.items()
    }


@pytest.mark.parametrize("head", CASES)
def test_features_are_as_bright_as_traced_with_the_rim_light_on(measured, head):
    traced = {n: v for n, v in CASES[head]["stops"].items() if n != "crown"}
    assert len(traced) >= 10
    for feature, stops in traced.items():
        shaded = feature.startswith("ear") and stops < DEEP_SHADE
        within = EAR_SHADED if shaded else WITHIN
        ours = measured[head][f"light_{feature}_stops"]
        assert_allclose(ours, stops, atol=within, err_msg=feature)


@pytest.mark.parametrize("head", CASES)
def test_what_the_rim_light_alone_gives_is_as_traced(measured, head):
    alone = {f"rim_{part}_stops": CASES[head]["rim"][part] for part in CASES[head]["rim"]}
    alone |= {f"rim_shoulder_{s}_stops": CASES[head]["shoulders"][s] for s in SIDES}
    compared = [name for name in alone if name in measured[head]]
    assert "rim_crown_stops" in compared
    for name in compared:
        ours, traced = measured[head][name], alone[name]
        if traced > FAINT:
            assert_allclose(ours, traced, atol=WITHIN, err_msg=name)
        else:
            assert_allclose(2.0**ours, 2.0**traced, atol=FAINT_WITHIN, err_msg=name)


def test_the_cases_have_rim_light_to_compare():
    bright = [v for case in CASES.values() for v in case["shoulders"].values() if v > -2.0]
    ears = [v for case in CASES.values() for n, v in case["rim"].items() if n.startswith("ear_")]
    assert len(bright) == 2
    assert max(ears) > -3.0
