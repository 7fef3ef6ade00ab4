"""Sliders to heads: the eyes stay round and covered, names and values are checked."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import HeadError
from sitwell.base.rotations import rotation_from_pose
from sitwell.head.regions import Region
from sitwell.head.surface import LID_CLEARANCE_MM, SIDES, build_head, head_from_values
from sitwell.head.template import load_template


def random_head(seed, expression=None):
    template = load_template()
    rng = np.random.default_rng(seed)
    shape = rng.normal(size=len(template.shape_names)) * template.shape_sigma
    units = np.zeros(len(template.expression_names), dtype=np.float32)
    for name, value in (expression or {}).items():
        units[template.expression_names.index(name)] = value
    return head_from_values(template, shape.astype(np.float32), units)


@pytest.fixture
def eye_pixels(seen_regions):
    def count(head, side, turn_deg=0.0, chin_deg=0.0):
        seen = seen_regions(head, turn_deg, chin_deg, head.eye_centre_mm[side], 22.0)
        eye = [Region[f"IRIS_{side.upper()}"], Region[f"WHITE_{side.upper()}"]]
        return np.count_nonzero(np.isin(seen, eye))

    return count


def test_no_sliders_gives_the_mean():
    template, head = load_template(), build_head()
    assert_allclose(head.vertices_mm, template.vertices_mm, atol=1e-4)
    assert head.hairline_mm == 0.0


@pytest.mark.parametrize(("turn_deg", "chin_deg"), [(0, 0), (0, 25), (0, -25), (30, 0), (-30, 0)])
@pytest.mark.parametrize("side", SIDES)
def test_full_blink_hides_the_whole_eye(eye_pixels, side, turn_deg, chin_deg):
    head = build_head(expression={f"eye_blink_{side}": 1.0})
    assert eye_pixels(head, side, turn_deg, chin_deg) == 0
    other = SIDES[1 - SIDES.index(side)]
    assert eye_pixels(head, other, turn_deg, chin_deg) > 1000


@pytest.mark.parametrize("seed", range(6))
def test_full_blink_closes_other_heads_too(eye_pixels, seed):
    open_px = eye_pixels(random_head(seed), "own_left")
    closed = random_head(seed, {"eye_blink_own_left": 1.0})
    assert eye_pixels(closed, "own_left") < 0.05 * open_px


def test_half_blink_is_between(eye_pixels):
    sizes = [
        eye_pixels(build_head(expression={"eye_blink_own_left": value}), "own_left")
        for value in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    assert sizes == sorted(sizes, reverse=True)


def test_fissure_height_of_the_mean():
    """Read 2006, Optom Vis Sci 83(10): 9.7 +- 1.2 mm in primary gaze."""
    head = build_head()
    for side in SIDES:
        height = head.point(f"lid_upper_{side}")[1] - head.point(f"lid_lower_{side}")[1]
        assert_allclose(height, 9.7, atol=1.2)


@given(seed=st.integers(0, 10_000), blink=st.floats(0.0, 1.0))
@settings(max_examples=20, deadline=None)
def test_lids_stay_off_round_eyeballs(seed, blink):
    template, head = load_template(), random_head(seed, {"eye_blink_own_left": blink})
    for side in SIDES:
        ball = head.vertices_mm[template.eyeball_vertices[side]] - head.eye_centre_mm[side]
        assert_allclose(np.linalg.norm(ball, axis=1), head.eye_radius_mm, rtol=1e-4)
        lids = head.vertices_mm[template.lid_vertices[side]] - head.eye_centre_mm[side]
        nearest = np.linalg.norm(lids, axis=1).min()
        assert nearest > head.eye_radius_mm + LID_CLEARANCE_MM - 1e-3


@given(seed=st.integers(0, 10_000))
@settings(max_examples=10, deadline=None)
def test_eye_midpoint_is_always_the_origin(seed):
    centres = random_head(seed).eye_centre_mm
    assert_allclose((centres["own_left"] + centres["own_right"]) / 2, 0.0, atol=0.05)


@pytest.mark.parametrize(
    ("unit", "axis", "sign"),
    [
        ("eye_look_up_own_left", 1, 1),
        ("eye_look_down_own_left", 1, -1),
        ("eye_look_out_own_left", 0, 1),
        ("eye_look_in_own_left", 0, -1),
    ],
)
def test_gaze_turns_the_iris(unit, axis, sign):
    still, looking = build_head(), build_head(expression={unit: 1.0})
    moved = looking.point("iris_own_left") - still.point("iris_own_left")
    assert sign * moved[axis] > 1.0
    assert_allclose(looking.point("iris_own_right"), still.point("iris_own_right"), atol=1e-4)


@pytest.mark.parametrize(
    ("slider", "point", "axis", "sign"),
    [
        ("nose_lean", "nose_tip", 0, 1),
        ("asym_nose_1", "nose_tip", 0, 1),
        ("nose_length", "nose_base", 1, -1),
        ("ear_wing_own_left", "ear_outer_own_left", 0, 1),
        ("ear_wing_own_right", "ear_outer_own_right", 0, -1),
        ("mouth_width", "mouth_corner_own_left", 0, 1),
        ("chin_prominence", "chin", 2, 1),
        ("eye_opening", "lid_upper_own_left", 1, 1),
        ("brow_height", "brow_own_right", 1, 1),
    ],
)
def test_sliders_move_what_they_name(slider, point, axis, sign):
    moved = build_head({slider: 0.5}).point(point) - build_head().point(point)
    assert sign * moved[axis] > 0.2


def test_one_sided_slider_leaves_the_other_side():
    mean, head = build_head(), build_head({"ear_wing_own_left": 0.6})
    assert_allclose(head.point("ear_outer_own_right"), mean.point("ear_outer_own_right"), atol=0.3)
    assert head.point("ear_outer_own_left")[0] - mean.point("ear_outer_own_left")[0] > 2.0


@pytest.mark.parametrize("turn_deg", [-45.0, -25.0, -10.0, 0.0, 8.0])
def test_the_ears_outer_point_is_where_its_outline_stands_out_farthest(turn_deg):
    # a mark at the very edge of an ear means this point, from whichever side it is seen
    rotation = rotation_from_pose(turn_deg, 0.0, 0.0)
    for head in (build_head(), *(random_head(seed) for seed in range(6))):
        ear = np.unique(head.triangles[head.region_of_triangle == Region.EAR_OWN_LEFT])
        outline_mm = (head.vertices_mm[ear] @ rotation.T)[:, 0].max()
        assert outline_mm - (rotation @ head.point("ear_outer_own_left"))[0] < 1.5


def test_unlike_ends_are_both_kept():
    template = load_template()
    for index in template.even_index:
        name = template.shape_names[index]
        up, down = build_head({name: 1.0}), build_head({name: -1.0})
        both = up.vertices_mm + down.vertices_mm - 2 * template.vertices_mm
        assert np.abs(both).max() > 0.5, name


def test_hairline_moves_along_the_skull():
    mean, receded = build_head(), build_head(hairline_mm=25.0)
    path = receded.point("hairline") - mean.point("hairline")
    assert 20.0 < np.linalg.norm(path) <= 25.01
    assert path[1] > 0

    def scalp(head):
        return np.count_nonzero(head.region_of_triangle == Region.SCALP)

    assert scalp(receded) < scalp(mean) < scalp(build_head(hairline_mm=-15.0))


def test_unknown_names_are_refused():
    with pytest.raises(HeadError, match=r"no shape slider 'beak'; there are .*nose_length"):
        build_head({"beak": 1.0})
    with pytest.raises(HeadError, match=r"no expression slider 'grin'; there are .*mouth_smile"):
        build_head(expression={"grin": 1.0})
    with pytest.raises(HeadError, match=r"'nose_length' is nan; give it a finite number"):
        build_head({"nose_length": float("nan")})
    with pytest.raises(HeadError, match=r"no point named 'knee'; it has .*nose_tip"):
        build_head().point("knee")
    with pytest.raises(HeadError, match=r"hairline 900\.0 mm .* off the skull; give a value from"):
        build_head(hairline_mm=900.0)
