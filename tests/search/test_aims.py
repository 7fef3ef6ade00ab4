import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.brief.wishes import DIRECTIONS, FEATURES, Wish
from sitwell.scene.measures import NAMES
from sitwell.search.aims import KINDS, NOTICE, aims_for
from sitwell.search.benefit import Benefit
from sitwell.search.choices import SETUP_NAMES
from sitwell.search.clearances import STUDIO_NAMES
from sitwell.search.prominence import both_ears, prominence

DERIVED = ("forehead_in_picture", "ear_prominence")


def benefit(*wishes, base, names, **how):
    return Benefit(wishes, names, np.array(base), **how)


@pytest.mark.parametrize("feature", FEATURES)
@pytest.mark.parametrize("direction", DIRECTIONS)
def test_every_wish_has_aims_on_things_that_are_measured(feature, direction):
    aims = aims_for(Wish(feature=feature, direction=direction))
    known = {*NAMES, *SETUP_NAMES, *STUDIO_NAMES, *DERIVED}
    if feature != "smile":
        assert any(aim.stands for aim in aims)
    for aim in aims:
        assert aim.measure in known
        assert aim.kind in KINDS
        assert aim.notice(0.02) > 0


def test_a_smile_whose_fuller_side_is_unknown_has_no_aim():
    assert aims_for(Wish(feature="smile", direction="soften")) == ()


@pytest.mark.parametrize("measure", NOTICE)
def test_every_noticeable_step_says_where_it_comes_from(measure):
    step, source = NOTICE[measure]
    assert step > 0
    assert "design choice" in source or any(ch.isdigit() for ch in source)


def test_published_thresholds_are_carried_over_as_written_down():
    """Wang et al. 2017: brow 3.5 mm, nose tip 4 mm; the face's sizes are ours."""
    assert_allclose(NOTICE["forehead_share"][0] * 185.0, 3.5)
    assert_allclose(NOTICE["nose_length"][0] * 125.0, 4.0)


@given(st.floats(-0.2, 0.2))
def test_one_step_lower_is_a_gain_of_one_and_bring_out_is_its_mirror(change):
    names, base = ("nose_width",), [0.3]
    step = NOTICE["nose_width"][0]
    wishes = [Wish(feature="nose-width", direction=d) for d in ("soften", "bring-out")]
    now = np.array([0.3 + change])
    soften, bring = (
        Benefit([wish], (*names, "near_far_stretch"), np.array([*base, 1.0])).steps(
            np.array([*now, 1.0])
        )[0]
        for wish in wishes
    )
    assert_allclose(soften, -change / step, atol=1e-9)
    assert_allclose(bring, change / step, atol=1e-9)


def test_a_loss_counts_more_than_the_same_gain():
    made = benefit(
        Wish(feature="nose-width", direction="bring-out"), base=[0.3], names=("nose_width",)
    )
    gained, lost = made.total(np.array([0.31])), made.total(np.array([0.29]))
    assert 0 < gained < -lost


def test_weights_scale_a_wish():
    totals = [
        benefit(
            Wish(feature="nose-width", direction="bring-out", weight=weight),
            base=[0.3],
            names=("nose_width",),
        ).total(np.array([0.32]))
        for weight in (1, 2, 3)
    ]
    assert_allclose(np.array(totals) / totals[0], [1.0, 2.0, 3.0])


def test_more_of_the_same_hardly_counts_beyond_the_cap():
    made = benefit(
        Wish(feature="nose-width", direction="bring-out"), base=[0.3], names=("nose_width",)
    )
    near, far, farther = (made.total(np.array([0.3 + d])) for d in (0.02, 0.4, 0.8))
    assert near < far
    assert_allclose(far, farther, rtol=0.01)


def test_left_alone_may_drift_a_little_and_then_costs():
    made = benefit(Wish(feature="nose-width", direction="leave"), base=[0.3], names=("nose_width",))
    step = NOTICE["nose_width"][0]
    assert made.total(np.array([0.3 + 0.4 * step])) == 0.0
    assert made.total(np.array([0.3 - 2.0 * step])) < -1.0
    assert not made.asks_for_change


EAR_NAMES = (
    *(f"ear_{what}_own_{side}" for what in ("out", "show") for side in ("left", "right")),
    *(f"light_ear_own_{side}_stops" for side in ("left", "right")),
    *(f"ear_contrast_own_{side}" for side in ("left", "right")),
    *(f"blur_ear_own_{side}_share" for side in ("left", "right")),
)


def with_prominence(vector):
    read = dict(zip(EAR_NAMES, vector, strict=True)).__getitem__
    return np.array([*vector, both_ears(read), 0.0])


def test_what_one_ear_gains_makes_up_for_the_other():
    base = [0.09, 0.09, 0.04, 0.04, 0, 0, 0, 0, 0, 0]
    names = (*EAR_NAMES, "ear_prominence", "broadness")
    made = Benefit([Wish(feature="ears")], names, with_prominence(base))
    swapped = [0.05, 0.13, *base[2:]]
    assert_allclose(made.total(with_prominence(swapped)), 0.0, atol=1e-9)
    gone = [0.0, 0.09, 0.0, *base[3:]]
    assert made.total(with_prominence(gone)) > 1.0


def test_an_ear_draws_the_eye_less_when_darker_softer_or_like_its_ground():
    lit = prominence(0.04, 0.09, 0.0, 1.0, 0.002)
    assert prominence(0.04, 0.09, -1.0, 1.0, 0.002) < lit
    assert prominence(0.04, 0.09, 0.0, 0.2, 0.002) < lit
    assert prominence(0.04, 0.09, 0.0, -1.0, 0.002) == lit
    assert prominence(0.04, 0.09, 0.0, 1.0, 0.03) < lit
    assert prominence(0.04, 0.05, 0.0, 1.0, 0.002) < lit
    assert prominence(0.0, 0.0, 0.0, 1.0, 0.002) == 0.0


def test_a_lit_ear_before_an_equally_bright_wall_still_draws_the_eye():
    """Camouflage must not beat shade: half a stop of contrast does not buy a stop and a half."""
    lit_alike = prominence(0.04, 0.09, 0.0, 0.0, 0.002)
    shaded = prominence(0.04, 0.09, -1.5, 0.5, 0.002)
    assert shaded < lit_alike


def test_what_is_not_measured_gains_nothing():
    names = ("glare_own_left_deg", "glare_own_right_deg")
    made = Benefit([Wish(feature="glasses")], names, np.array([np.nan, np.nan]))
    assert made.total(np.array([np.nan, np.nan])) == 0.0


def test_what_is_only_to_be_reached_gains_nothing_beyond():
    names = ("glare_own_left_deg", "glare_own_right_deg")
    made = Benefit([Wish(feature="glasses")], names, np.array([2.0, 30.0]))
    assert not made.is_reached(np.array([2.0, 30.0]))
    assert_allclose(made.steps(np.array([6.0, 20.0])), [1.0, 0.0])
    assert_allclose(made.steps(np.array([10.0, 30.0])), made.steps(np.array([40.0, 10.0])))
    assert made.is_reached(np.array([10.0, 11.0]))


def test_a_favoured_wish_makes_the_others_step_back():
    names = ("nose_width", "skin_relief")
    wishes = [
        Wish(feature="nose-width", direction="bring-out"),
        Wish(feature="skin", direction="bring-out"),
    ]
    made = Benefit(wishes, names, np.array([0.3, 0.4]))
    now = np.array([0.32, 0.42])
    first = made.favouring(0).by_wish(now)
    assert_allclose(first, made.by_wish(now) * [1.0, 0.25])
