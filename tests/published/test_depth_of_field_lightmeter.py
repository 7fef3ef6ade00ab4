"""Depth of field against values other people computed or printed."""

import math

import pytest
from numpy.testing import assert_allclose

from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM
from sitwell.brief.kit import Camera
from sitwell.scene import lens

# Source: github.com/kailuowang/LightMeter, DoFCalculatorTest.java: 50 mm, f/16, c 0.03 mm,
# printed in whole millimetres, hence 1 mm.
TABLE_TOLERANCE_MM = 1.0


def test_hyperfocal_of_50_mm_at_f16():
    assert_allclose(lens.hyperfocal_mm(50, 16, 0.03), 5258, atol=TABLE_TOLERANCE_MM)


def test_sharp_range_of_50_mm_at_f16_focused_at_1_m():
    near, far = lens.sharp_range_mm(50, 16, 1000, 0.03)
    assert_allclose([near, far], [846, 1223], atol=TABLE_TOLERANCE_MM)


# Source: encyclopedia text on depth of field: hyperfocal 49 m, focus 2 m, printed in metres with
# three decimals. It uses the short formulas, which leave out the focal length: so will we, with
# a focal length of next to nothing.
def test_sharp_range_from_a_hyperfocal_of_49_m():
    circle = 1e-3**2 / (4.0 * 49_000)
    near, far = lens.sharp_range_mm(1e-3, 4.0, 2000, circle)
    assert_allclose([near, far], [1921, 2085], atol=TABLE_TOLERANCE_MM)


# Computed outside this project from H = f^2/(N c) + f, near = s(H-f)/(H+s-2f),
# far = s(H-f)/(H-s) at c = 0.030 mm, printed to 0.1 mm.
@pytest.mark.parametrize(
    ("f_number", "near_mm", "far_mm"), [(2.5, 1961.0, 2040.6), (2.8, 1956.4, 2045.5)]
)
def test_sharp_range_of_a_portrait_lens(f_number, near_mm, far_mm):
    near, far = lens.sharp_range_mm(85, f_number, 2000, 0.03)
    assert_allclose([near, far], [near_mm, far_mm], atol=0.1)


@pytest.mark.parametrize(("f_number", "total_mm"), [(2.5, 79.5), (2.8, 89.1), (1.8, 57.3)])
def test_depth_of_field_of_a_portrait_lens(f_number, total_mm):
    assert_allclose(lens.depth_of_field_mm(85, f_number, 2000, 0.03), total_mm, atol=0.1)


# Computed outside this project: b = f^2/(N(s-f)) |d-s|/d, 85 mm f/2.5 focused at 2 m.
@pytest.mark.parametrize(("distance_mm", "blur_mm"), [(4000, 0.755), (math.inf, 1.509)])
def test_background_blur_of_a_portrait_lens(distance_mm, blur_mm):
    assert_allclose(lens.blur_disc_mm(85, 2.5, 2000, distance_mm), blur_mm, atol=5e-4)


# Exact mathematics: at the ends of the sharp range the blur disc is the circle of confusion.
def test_blur_at_the_ends_of_the_sharp_range_is_the_circle_of_confusion():
    for distance_mm in lens.sharp_range_mm(85, 2.5, 2000, 0.03):
        assert_allclose(lens.blur_disc_mm(85, 2.5, 2000, distance_mm), 0.03, rtol=1e-9)


# CIPA DCG-001 compares diagonals (read through piglix.com, 35_mm_equivalent_focal_length).
@pytest.mark.parametrize(
    ("focal_mm", "sensor_mm", "equivalent_mm", "tolerance_mm"),
    [
        (1.0, (17.3, 13.0), 1.9994, 1e-3),
        (1.0, (23.5, 15.6), 1.534, 1e-3),
        (1.0, (22.3, 14.9), 1.613, 1e-3),
        (25.0, (30.2, 16.7), 31.35, 0.05),
    ],
)
def test_35_mm_equivalent(focal_mm, sensor_mm, equivalent_mm, tolerance_mm):
    camera = Camera(name="", sensor_width_mm=sensor_mm[0], sensor_height_mm=sensor_mm[1])
    assert_allclose(camera.equivalent_mm(focal_mm), equivalent_mm, atol=tolerance_mm)


def test_full_frame_diagonal():
    assert_allclose(FULL_FRAME_DIAGONAL_MM, 43.2666, atol=1e-4)


# design rule stated with the figures: 85 mm at 1.5 m has an image distance 6 % longer.
def test_image_distance_of_85_mm_at_portrait_distance():
    assert_allclose(lens.image_distance_mm(85, 1500) / 85, 1.06, atol=5e-3)
