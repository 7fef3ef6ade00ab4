"""The mean head's nose in profile against measured people.

Uzun and Ozdemir 2014, Braz J Otorhinolaryngol 80(5), 56 men and 59 women from Turkey, degrees,
mean +- SD: nasolabial 97.9 +- 8.8 and 98.9 +- 10.0, nasofrontal 123.9 +- 13.2 and 133.2 +- 8.9.
The spread is wide and there is no ideal; the head has only to lie within it.
"""

import numpy as np

from sitwell.head.regions import Region
from sitwell.head.surface import build_head


def angle_deg(first, second):
    cosine = first @ second / np.linalg.norm(first) / np.linalg.norm(second)
    return np.degrees(np.arccos(cosine))


def test_nasolabial_angle():
    """Between the columella and the upper lip's skin, at the base of the nose."""
    head = build_head()
    corner = head.point("nose_base")
    columella = np.unique(head.triangles[head.region_of_triangle == Region.NOSE_BASE])
    middle = columella[np.abs(head.vertices_mm[columella, 0]) < 1e-3]
    front = head.vertices_mm[middle[np.argmax(head.vertices_mm[middle, 2])]]
    found = angle_deg(front - corner, head.point("upper_lip_top") - corner)
    assert abs(found - 98.4) < 10.0  # one SD of the women


def test_nasofrontal_angle():
    """Between forehead and ridge, at the root of the nose."""
    head = build_head()
    root = head.point("nose_root")
    found = angle_deg(head.point("brow_centre") - root, head.point("nose_ridge_4") - root)
    # two SD of the men: where tangents are laid changes this angle by about ten degrees
    assert abs(found - 128.6) < 26.4
