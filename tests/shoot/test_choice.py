import dataclasses
import math

import pytest

from sitwell.base.errors import ShootError
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan
from sitwell.shoot.choice import choose_setup

from .planned import PLANNED

GENTLE = dataclasses.replace(PLANNED, name="gentle")
PLAN = Plan(
    baseline=Setup(),
    baseline_measures={},
    setups=(GENTLE, PLANNED),
    conflicts=(),
)


@pytest.mark.parametrize(
    ("name", "chosen"), [(None, PLANNED), ("Gentle", GENTLE), ("1", GENTLE), ("2", PLANNED)]
)
def test_a_setup_is_chosen_by_name_or_number(name, chosen):
    assert choose_setup(PLAN, name) is chosen


def test_without_a_balanced_one_it_is_the_first():
    assert choose_setup(dataclasses.replace(PLAN, setups=(GENTLE,))) is GENTLE


def test_an_unknown_setup_and_an_empty_plan_are_refused():
    with pytest.raises(ShootError, match="no set-up 'bold'; choose one of gentle, balanced"):
        choose_setup(PLAN, "bold")
    with pytest.raises(ShootError, match="no set-up to hold frames against; make it again"):
        choose_setup(dataclasses.replace(PLAN, setups=()))


def test_what_was_asked_for_is_read_from_the_gains():
    assert PLANNED.asked == ("ears",)
    assert not PLANNED.wears_glasses
    blank = dataclasses.replace(PLANNED, measures={"glare_own_left_deg": math.nan})
    assert not blank.wears_glasses
    worn = dataclasses.replace(PLANNED, measures={"glare_own_left_deg": 4.0})
    assert worn.wears_glasses
