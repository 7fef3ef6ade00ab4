"""How a near lens enlarges the nose: Ward, Ward, Fried, Paskhover 2018 (JAMA Facial Plast Surg).

Their model is two parallel planes across the camera's axis. At 12 in the nose's base against the
breadth of the face is +30 % (men) and +29 % (women), the tip +7 %. These are against life size
(infinity), NOT against 5 ft: the same model gives only about 22 % against 5 ft, so the press's
"30 % wider than at 5 ft" does not follow from it, and a test below holds us to that.

The formula is inferred from the letter's Figure C: distance from the tip, base plane one nose
protrusion behind it, breadth plane half a head length behind the base. Head length and nose
protrusion (NIOSH) are from memory, hence the tolerance of one percentage point.
"""

import pytest
from numpy.testing import assert_allclose

from sitwell.base.units import MM_PER_FOOT, MM_PER_INCH
from sitwell.scene.lens import magnification_ratio

HEAD = [("men", 197.3, 21.1, 30.0), ("women", 187.5, 19.8, 29.0)]
POINT = 1.0
NEAR_MM = 12 * MM_PER_INCH
FAR_MM = 5 * MM_PER_FOOT


def base_percent(distance_mm, head_length_mm, protrusion_mm):
    base_mm = distance_mm + protrusion_mm
    return 100 * (magnification_ratio(base_mm, base_mm + head_length_mm / 2) - 1)


@pytest.mark.parametrize(("who", "head_length_mm", "protrusion_mm", "percent"), HEAD)
def test_nose_base_against_life_size(who, head_length_mm, protrusion_mm, percent):
    assert_allclose(base_percent(NEAR_MM, head_length_mm, protrusion_mm), percent, atol=POINT)


@pytest.mark.parametrize(("who", "head_length_mm", "protrusion_mm", "percent"), HEAD)
def test_tip_against_base(who, head_length_mm, protrusion_mm, percent):
    tip_percent = 100 * (magnification_ratio(NEAR_MM, NEAR_MM + protrusion_mm) - 1)
    assert_allclose(tip_percent, 7.0, atol=POINT)


@pytest.mark.parametrize(("who", "head_length_mm", "protrusion_mm", "percent"), HEAD)
def test_against_five_feet_it_is_not_thirty_percent(who, head_length_mm, protrusion_mm, percent):
    near = base_percent(NEAR_MM, head_length_mm, protrusion_mm)
    far = base_percent(FAR_MM, head_length_mm, protrusion_mm)
    against_far = 100 * ((1 + near / 100) / (1 + far / 100) - 1)
    assert_allclose(against_far, 22.0, atol=POINT)


# MediaPipe canonical_face_model (face_model_with_iris.obj, commit 97fe07c4): the tip lies 95.92 mm
# ahead of the temples; with the lens 12 in, 5 ft and 2 m from the tip.
@pytest.mark.parametrize(("tip_mm", "ratio"), [(304.8, 1.3147), (1524, 1.0629), (2000, 1.0480)])
def test_tip_against_temples_of_the_canonical_face(tip_mm, ratio):
    assert_allclose(magnification_ratio(tip_mm, tip_mm + 95.92), ratio, atol=1e-3)
