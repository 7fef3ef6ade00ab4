import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene import framing
from sitwell.scene.framing import HeadHeights, crop_clearance, picture_top_and_height
from sitwell.scene.setup import ASPECTS, FRAMINGS, Setup

# mm above the eyes, about the mean head's
HEIGHTS = HeadHeights(crown=107.0, hairline=67.0, brow=13.0, eyes=0.0, chin=-117.0)


def test_every_framing_of_a_setup_has_its_size():
    assert tuple(framing.FRAMINGS) == FRAMINGS
    heights = [framing.FRAMINGS[name].height_mm for name in FRAMINGS]
    assert heights == sorted(heights)


@pytest.mark.parametrize(
    ("aspect", "size_mm"),
    [("2:3", (24, 36)), ("4:5", (24, 30)), ("1:1", (24, 24)), ("16:9", (20.25, 36))],
)
def test_the_upright_cut_of_a_full_frame_sensor(aspect, size_mm):
    assert_allclose(framing.picture_size_mm(Setup(aspect=aspect)), size_mm)


@given(focal_mm=st.floats(20, 200), aspect=st.sampled_from(ASPECTS), name=st.sampled_from(FRAMINGS))
def test_distance_and_focal_length_for_a_framing_are_inverse(focal_mm, aspect, name):
    setup = Setup(focal_mm=focal_mm, aspect=aspect, framing=name, distance_mm=1e5)
    placed = setup.with_changes(distance_mm=framing.distance_for_framing(setup))
    assert_allclose(framing.held_height_mm(placed), framing.FRAMINGS[name].height_mm)


def test_head_and_shoulders_with_85_mm():
    # m = 30 mm / 520 mm = f / (s - f), so s = 85 * (1 + 52 / 3) mm
    assert_allclose(framing.distance_for_framing(Setup(focal_mm=85)), 85 * (1 + 52 / 3))


@pytest.mark.parametrize("name", FRAMINGS)
def test_a_whole_head_keeps_air_and_a_crop_into_the_forehead_keeps_clear(name):
    setup = Setup(framing=name, focal_mm=24, distance_mm=2000)
    top, height = picture_top_and_height(HEIGHTS, setup, 1.0)
    assert top - HEIGHTS.crown >= framing.LEAST_HEAD_ROOM_SHARE * height
    cut, _ = picture_top_and_height(HEIGHTS, setup.with_changes(crop="into-forehead"), 1.0)
    assert HEIGHTS.brow < cut < HEIGHTS.hairline
    assert crop_clearance(HEIGHTS, top) > 0
    assert crop_clearance(HEIGHTS, cut) > 0


@pytest.mark.parametrize("aspect", ["2:3", "4:5", "1:1"])
def test_a_cut_into_the_forehead_tightens_the_frame_and_lowers_the_eye_line(aspect):
    # Geometry bounds it: with the chin in the picture the eye line can't come lower than this.
    setup = Setup(framing="tight-head", crop="into-forehead", aspect=aspect, focal_mm=50)
    top, height = picture_top_and_height(HEIGHTS, setup, 1.0)
    eye_line_share = (top - HEIGHTS.eyes) / height
    lowest = top / (top - HEIGHTS.chin)
    assert 0.5 * lowest < eye_line_share < lowest
    assert top - height < HEIGHTS.chin - 0.09 * height
    assert height / framing.aspect_ratio(aspect) >= 150  # cheekbone to cheekbone, with air
    assert height < framing.FRAMINGS["tight-head"].height_mm


def test_a_picture_is_no_taller_than_the_lens_holds():
    near = Setup(framing="full-length", focal_mm=85, distance_mm=1500)
    _, height = picture_top_and_height(HEIGHTS, near, 1.0)
    assert_allclose(height, framing.held_height_mm(near))


@pytest.mark.parametrize(
    ("top", "clearance"),
    [
        (130, 23),  # air above the crown
        (107, 0),  # at the crown
        (87, -20),  # between hairline and crown, 20 from both
        (67, 0),  # at the hairline
        (40, 27),  # in the forehead, 27 from both
        (13, 0),  # at the brow
        (0, -13),  # through the eyes
    ],
)
def test_where_a_cut_is_good_and_where_it_is_bad(top, clearance):
    assert_allclose(crop_clearance(HEIGHTS, top), clearance)


@given(top=st.floats(-120, 200), step=st.floats(0, 1))
def test_clearance_has_no_jumps(top, step):
    change = crop_clearance(HEIGHTS, top + step) - crop_clearance(HEIGHTS, top)
    assert abs(change) <= step + 1e-9
