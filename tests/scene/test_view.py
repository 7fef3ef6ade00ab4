import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.head.regions import FACE, Region
from sitwell.head.surface import build_head
from sitwell.scene.focus_measures import MEASURES as FOCUS
from sitwell.scene.focus_measures import focus_measures
from sitwell.scene.lens import blur_disc_mm
from sitwell.scene.measures import measure
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer


@pytest.fixture(scope="module")
def head():
    return build_head()


@pytest.fixture(scope="module")
def observer(head):
    return Observer(head)


poses = st.builds(
    Setup,
    turn_deg=st.floats(-45, 45),
    chin_deg=st.floats(-12, 18),
    tilt_deg=st.floats(-12, 12),
    camera_height_mm=st.floats(-400, 400),
    distance_mm=st.floats(800, 5000),
)


@settings(max_examples=20, deadline=None)
@given(setup=poses)
def test_the_unit_is_the_visible_face_height_and_the_origin_the_eyes(observer, setup):
    view = observer.view(setup)
    assert_allclose(view.along("hairline") - view.along("chin"), 1, atol=1e-9)
    u, v = view.place(view.eyes_mm[None, :])
    assert_allclose([u[0], v[0]], 0, atol=1e-9)


@settings(max_examples=20, deadline=None)
@given(setup=poses)
def test_points_placed_by_the_camera_are_where_the_fast_way_puts_them(observer, setup):
    view = observer.view(setup)
    u, v = view.place(view.points_mm)
    assert_allclose(u, view.point_u, atol=1e-9)
    assert_allclose(v, view.point_v, atol=1e-9)
    back = view.head_from_studio(view.studio_from_head(view.points_mm))
    assert_allclose(back, view.points_mm, atol=1e-9)


@settings(max_examples=10, deadline=None)
@given(setup=poses)
def test_the_faces_areas_add_up_to_one(observer, setup):
    view = observer.view(setup)
    assert_allclose(sum(view.region_area[region] for region in FACE), 1)
    assert min(view.region_area) >= 0


def test_the_seen_turn_is_the_studios_when_the_camera_is_level(observer):
    view = observer.view(Setup(turn_deg=25))
    # the camera is aimed at the turned head's middle, a little off the middle line
    assert_allclose(view.seen_turn_deg, 25, atol=2)


def test_a_turned_head_shows_more_of_the_near_cheek(observer):
    view = observer.view(Setup(turn_deg=25))
    assert view.area(Region.CHEEK_OWN_RIGHT) > 2 * view.area(Region.CHEEK_OWN_LEFT)


@pytest.mark.parametrize("tip_mm", [304.8, 600, 1524])
def test_stretch_is_the_ratio_of_the_distances(head, tip_mm):
    # exact for parts near the axis: depths of the ears and of the tip along it
    tip, ear = head.point("nose_tip"), head.point("ear_outer_own_left")
    seen = measure(head, Setup(distance_mm=tip_mm + float(tip[2])))["near_far_stretch"]
    assert_allclose(seen, 1 + float(tip[2] - ear[2]) / tip_mm, rtol=2e-3)


def test_blur_is_the_lenss_blur_at_each_depth(observer):
    setup = Setup(turn_deg=20, focal_mm=85, f_number=2.5)
    view = observer.view(setup)
    seen = dict(zip((row.name for row in FOCUS), focus_measures(view), strict=True))
    near_mm = min(view.depth_mm("iris_own_left"), view.depth_mm("iris_own_right"))
    wanted = blur_disc_mm(85, 2.5, near_mm, view.depth_mm("ear_outer_own_left"))
    assert_allclose(seen["blur_ear_own_left_mm"], wanted)
    assert_allclose(seen["blur_ear_own_left_coc"], wanted / (43.2666 / 1500), rtol=1e-4)
    assert seen["blur_near_eye_mm"] == 0


def test_shade_is_the_fill_alone(head):
    # light from the own left only: the far cheek has the fill, the lit one at most key and fill
    for ratio in (2.0, 4.0):
        seen = measure(
            head,
            Setup(key_azimuth_deg=90, key_elevation_deg=0, key_size_mm=50, fill_ratio=ratio),
        )
        apart = seen["light_ear_own_left_stops"] - seen["light_ear_own_right_stops"]
        assert 0 < apart <= np.log2(ratio) + 0.15  # the lit ear is 90 mm nearer the key
