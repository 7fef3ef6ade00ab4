"""Both conventions of lighting ratio against teaching pages.

Additive (key + fill : fill): photocalcs.pages.dev, tanguayphotomag.biz. Source (key : fill):
absoluteastronomy.com. Both named side by side: rangefinderonline.com, "Additive and Source".
One blog divides additive stops by two (3:1 = 1.5 stops); that is wrong and not followed.
"""

import pytest
from numpy.testing import assert_allclose

from sitwell.scene.light import key_and_fill, stops_between

TABLE = [
    ("additive", 2, 0),
    ("additive", 3, 1),
    ("additive", 5, 2),
    ("additive", 9, 3),
    ("source", 2, 1),
    ("source", 4, 2),
    ("source", 8, 3),
]


@pytest.mark.parametrize(("convention", "ratio", "stops"), TABLE)
def test_stops_of_a_ratio(convention, ratio, stops):
    assert_allclose(stops_between(ratio, convention), stops, atol=1e-9)


@pytest.mark.parametrize(("ratio", "stops"), [(3, 1), (5, 2), (9, 3)])
def test_key_and_fill_shares_give_the_additive_ratio(ratio, stops):
    key, fill = key_and_fill(ratio)
    assert_allclose((key + fill) / fill, ratio, rtol=1e-12)
    assert_allclose(key / fill, 2**stops, rtol=1e-12)
