"""35 mm equivalents by the diagonal, as CIPA DCG-001 has it.

Sources: the diagonal rule and the 43.27 mm of 36 x 24 through an encyclopedia's copy of the
standard (piglix.com/piglix/35_mm_equivalent_focal_length; the standard itself was not read). The
sensor sizes are customary ones; the factors are exact arithmetic on them, and a rule based on
width gives other numbers for 4:3 sensors, so the last row tells the two apart.
"""

import math

import pytest
from numpy.testing import assert_allclose

from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM, equivalent_from_sensor


def test_the_full_frame_diagonal():
    assert_allclose(FULL_FRAME_DIAGONAL_MM, 43.2666, atol=5e-5)


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "factor"),
    [(23.5, 15.6, 1.534), (22.3, 14.9, 1.613), (17.3, 13.0, 1.999)],
)
def test_crop_factors(width_mm, height_mm, factor):
    diagonal_mm = math.hypot(width_mm, height_mm)
    assert_allclose(equivalent_from_sensor(1.0, diagonal_mm), factor, atol=5e-4)


def test_a_cinema_sensor():
    # 25 mm on 30.2 x 16.7 mm: 31.35 mm.
    assert_allclose(equivalent_from_sensor(25.0, math.hypot(30.2, 16.7)), 31.35, atol=0.05)
