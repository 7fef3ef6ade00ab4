"""The focal length comes from the best source, in pixels of the whole picture, with a spread."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import UsageError
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal


def test_the_sources_rank_given_then_sensor_then_equivalent_then_default():
    facts = ExifFacts(focal_mm=56.0, focal_35_mm=84.0, sensor_diagonal_mm=28.0)
    assert find_focal(facts, 6000, 4000, focal_35_mm=90.0).source == "given"
    assert find_focal(facts, 6000, 4000, sensor_diagonal_mm=28.2).source == "exif-and-sensor"
    assert find_focal(facts, 6000, 4000).source == "exif-35mm"
    plane_only = ExifFacts(focal_mm=56.0, sensor_diagonal_mm=28.0)
    assert find_focal(plane_only, 6000, 4000).source == "exif-and-sensor"
    assert find_focal(ExifFacts(focal_mm=56.0), 6000, 4000).source == "exif-full-frame"
    assert find_focal(ExifFacts(), 6000, 4000).source == "default"


def test_the_printed_focal_length_is_the_lens_where_known():
    assert find_focal(ExifFacts(focal_mm=56.0, focal_35_mm=84.0), 60, 40).focal_mm == 56.0
    assert find_focal(ExifFacts(focal_35_mm=84.0), 60, 40).focal_mm == 84.0


def test_a_guess_says_so_and_is_wide():
    focal = find_focal(ExifFacts(), 6000, 4000)
    assert focal.spread == 0.5
    assert focal.notes == (
        "No focal length is known; the usual one for portraits was assumed and corrected by how "
        "the face is drawn, so the distance is a guess.",
    )
    assumed = find_focal(ExifFacts(focal_mm=85.0), 6000, 4000)
    assert assumed.spread == 0.3
    assert assumed.notes == (
        "The sensor's size is not known; a 36 x 24 mm sensor was assumed and corrected by how the "
        "face is drawn, so the distance is a guess.",
    )


def test_pixels_follow_the_sensor_for_a_full_frame():
    # 85 mm on 36 mm across 6000 pixels is 85 / 36 * 6000 pixels, exactly.
    focal = find_focal(ExifFacts(focal_mm=85.0, focal_35_mm=85.0), 6000, 4000)
    assert_allclose(focal.px, 85.0 / 36.0 * 6000)


def test_a_crop_keeps_the_pixels_of_the_whole_exposure_and_widens():
    facts = ExifFacts(focal_mm=85.0, focal_35_mm=85.0, pixels_wide=6000, pixels_high=4000)
    focal = find_focal(facts, 2000, 2000)
    assert_allclose(focal.px, 85.0 / 36.0 * 6000)
    assert_allclose(focal.spread, math.hypot(0.03, 0.1))
    assert focal.notes == (
        "The picture is 2000 x 2000 pixels but the camera recorded 6000 x 4000; "
        "it was taken as cropped, not resized.",
    )


def test_a_resized_or_upright_picture_is_no_crop():
    facts = ExifFacts(focal_mm=85.0, focal_35_mm=85.0, pixels_wide=6000, pixels_high=4000)
    assert_allclose(find_focal(facts, 1000, 1500).px, 85.0 / 36.0 * 1500)
    assert find_focal(facts, 1000, 1500).notes == ()


def test_a_lens_focused_close_has_its_image_farther_back():
    # Thin lens, 85 mm at 1.5 m: 85 * 1500 / 1415 = 90.106 mm, 6.0 % more (exact arithmetic).
    focal = find_focal(ExifFacts(focal_mm=85.0, focal_35_mm=85.0), 6000, 4000)
    assert_allclose(focal.px_at(1500.0) / focal.px, 1500.0 / 1415.0)
    assert find_focal(ExifFacts(focal_35_mm=85.0), 6000, 4000).px_at(1500.0) == focal.px


@pytest.mark.parametrize("diagonal_mm", [0.0, 1000.0, math.nan])
def test_a_sensor_that_cannot_be_is_refused(diagonal_mm):
    with pytest.raises(UsageError, match=r"A sensor diagonal of .* mm can't be; give one from 3"):
        find_focal(ExifFacts(), 600, 400, sensor_diagonal_mm=diagonal_mm)


@given(st.floats(10, 300), st.floats(5, 60), st.floats(400, 20_000))
def test_the_image_distance_obeys_the_lens_equation(focal_mm, diagonal_mm, distance_mm):
    facts = ExifFacts(focal_mm=focal_mm, sensor_diagonal_mm=diagonal_mm)
    focal = find_focal(facts, 6000, 4000)
    if focal.source != "exif-and-sensor" or distance_mm <= 2 * focal_mm:
        return
    image_mm = focal.px_at(distance_mm) / focal.px * focal_mm
    assert_allclose(1 / image_mm + 1 / distance_mm, 1 / focal_mm)


def test_the_image_distance_of_a_near_face_is_as_unsure_as_half_of_what_a_thin_lens_gains():
    focal = find_focal(ExifFacts(focal_mm=85.0, focal_35_mm=85.0), 6000, 4000)
    gain = 1500.0 / (1500.0 - 85.0) - 1.0  # thin lens: f s / (s - f)
    assert_allclose(focal.spread_at(1500.0), math.hypot(0.03, 0.5 * gain), rtol=1e-6)
    assert focal.spread_at(1e7) == pytest.approx(0.03, rel=1e-3)
