import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.clear_glare import (
    CLEAR_DEG,
    NO_CURE,
    WAYS,
    WORDS,
    clear_glare,
    cure_words,
    glare_margin_deg,
)
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer

GLARING = Setup(key_azimuth_deg=10, key_elevation_deg=20, chin_deg=14, key_size_mm=600)


@pytest.fixture(scope="module")
def head():
    return build_head()


@pytest.fixture(scope="module")
def cures(head):
    return clear_glare(head, GLARING, Glasses())


def test_every_kind_of_move_is_tried_and_clears_both_panes(head, cures):
    observer = Observer(head)
    assert glare_margin_deg(observer.view(GLARING), Glasses()) < 0
    assert {cure.move for cure in cures} == set(WAYS)
    for cure in cures:
        margin = glare_margin_deg(observer.view(cure.setup), cure.glasses)
        assert margin >= CLEAR_DEG
        assert_allclose(margin, cure.margin_deg)


def test_none_would_do_with_one_step_less(head, cures):
    observer = Observer(head)
    for cure in cures:
        if cure.move == "frame_tilt_deg":
            continue
        way = WAYS[cure.move]
        back = way.step if cure.change_deg > 0 else -way.step
        less = cure.setup.with_changes(**{cure.move: getattr(cure.setup, cure.move) - back})
        assert glare_margin_deg(observer.view(less), Glasses()) < CLEAR_DEG


def test_the_least_effort_comes_first(cures):
    efforts = [cure.effort for cure in cures]
    assert efforts == sorted(efforts)


def test_a_raised_chin_comes_down_and_the_key_goes_up(cures):
    # common practice, no source: chin down, key higher
    change = {cure.move: cure.change_deg for cure in cures}
    assert change["chin_deg"] < 0 < change["key_elevation_deg"]
    assert change["frame_tilt_deg"] > 0


def test_one_move_changes_one_thing(cures):
    for cure in cures:
        if cure.move == "frame_tilt_deg":
            assert cure.setup == GLARING
            assert_allclose(cure.glasses.tilt_deg, Glasses().tilt_deg + cure.change_deg)
        else:
            back = getattr(cure.setup, cure.move) - cure.change_deg
            assert cure.setup.with_changes(**{cure.move: back}) == GLARING
            assert cure.glasses == Glasses()


def test_clear_panes_need_nothing(head):
    assert clear_glare(head, Setup(key_azimuth_deg=50, key_elevation_deg=45), Glasses()) is None


def test_a_window_stays_where_it_is(head):
    moves = {cure.move for cure in clear_glare(head, GLARING, Glasses(), key_moves=False)}
    assert moves <= {"frame_tilt_deg", "chin_deg"}
    assert moves


def test_the_cures_in_words(cures):
    words = cure_words(cures)
    assert words.startswith("To clear both panes raise the key 8 degrees, or bring the chin down")
    assert cure_words(()) == NO_CURE
    assert cure_words(None) == ""
    assert {move for move, _ in WORDS} == set(WAYS)


def test_a_key_as_large_as_a_wall_is_cleared_by_no_single_move(head):
    wall = Setup(key_azimuth_deg=0, key_elevation_deg=0, key_size_mm=12000, key_distance_mm=1000)
    assert clear_glare(head, wall, Glasses()) == ()
