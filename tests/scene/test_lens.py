import math

from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.scene import lens

focals = st.floats(20, 200)
apertures = st.floats(1.2, 22)
distances = st.floats(600, 6000)


@given(focal_mm=focals, focus_mm=distances)
def test_the_thin_lens_equation_holds(focal_mm, focus_mm):
    image_mm = lens.image_distance_mm(focal_mm, focus_mm)
    assert_allclose(1 / image_mm + 1 / focus_mm, 1 / focal_mm)


def test_nothing_is_sharp_within_the_focal_length():
    assert lens.image_distance_mm(85, 85) == math.inf
    assert lens.image_distance_mm(85, 50) == math.inf


def test_from_the_hyperfocal_distance_on_infinity_is_sharp():
    hyperfocal_mm = lens.hyperfocal_mm(50, 16, 0.03)
    near_mm, far_mm = lens.sharp_range_mm(50, 16, hyperfocal_mm, 0.03)
    assert far_mm == math.inf
    assert_allclose(near_mm, hyperfocal_mm / 2)
    assert lens.depth_of_field_mm(50, 16, hyperfocal_mm * 2, 0.03) == math.inf


@given(focal_mm=focals, f_number=apertures, focus_mm=distances, distance_mm=distances)
def test_blur_is_nothing_at_the_focus_and_halves_with_the_aperture(
    focal_mm, f_number, focus_mm, distance_mm
):
    assert lens.blur_disc_mm(focal_mm, f_number, focus_mm, focus_mm) == 0
    blur = lens.blur_disc_mm(focal_mm, f_number, focus_mm, distance_mm)
    assert_allclose(lens.blur_disc_mm(focal_mm, 2 * f_number, focus_mm, distance_mm), blur / 2)


def test_the_blur_disc_is_the_pupils_image_by_similar_triangles():
    # independent of the formula: rays through both edges of the pupil, met by the sensor plane
    focal, f_number, focus, point = 85.0, 2.5, 2000.0, 2100.0
    sensor = 1 / (1 / focal - 1 / focus)
    image = 1 / (1 / focal - 1 / point)
    disc = focal / f_number * abs(sensor - image) / image
    assert_allclose(lens.blur_disc_mm(focal, f_number, focus, point), disc)


def test_the_circle_of_confusion_is_a_parameter():
    assert_allclose(lens.circle_of_confusion_mm(36, 24), 0.0288, atol=5e-5)
    assert_allclose(lens.circle_of_confusion_mm(36, 24, 1442.22), 0.03, atol=1e-6)
