"""What a cut-out holds where the photograph ends."""

from types import SimpleNamespace

import numpy as np
import pytest

from sitwell.likeness import plate
from sitwell.likeness.plate import (
    BELOW_MM,
    PX_PER_MM,
    Plate,
    _with_more_below,
    shoulders_fall_mm,
    shoulders_reach_mm,
)

BLUE, SKIN = (30, 60, 150), (180, 130, 110)
FRAME = SimpleNamespace(size_px=(600, 300))


def with_more(rgb, half_px):
    """A plate of 600 x 300 whose person, about its middle, is cut 100 mm below the eyes."""
    alpha = np.zeros((300, 600), dtype=np.uint8)
    alpha[:, 300 - half_px : 300 + half_px] = 255
    cut = Plate(rgb=rgb, alpha=alpha, origin_px=np.zeros(2), px_per_px=1.0, photo=(0, 0, 600, 300))
    return _with_more_below(cut, FRAME, np.array([300.0, 100.0]), PX_PER_MM, np.array(SKIN))


def plain(colour):
    return np.full((300, 600, 3), colour, dtype=np.uint8)


def test_who_is_cut_at_the_neck_has_shoulders():
    made = with_more(plain(BLUE), 110)
    assert len(made.alpha) == 300 + round((BELOW_MM - 100.0) * PX_PER_MM)
    widths_mm = (made.alpha[300:] >= 128).sum(axis=1) / PX_PER_MM
    assert (np.diff(widths_mm) >= 0.0).all()
    assert widths_mm[0] < 125.0
    assert widths_mm[-1] == pytest.approx(300.0)  # as wide as the photograph; the sheet goes on
    assert made.beside_mm == pytest.approx((95.0, 95.0), abs=1.0)


def test_who_is_cut_below_the_shoulders_grows_no_wider(monkeypatch):
    monkeypatch.setattr(plate, "HALF_SHOULDERS_MM", 55.0)
    made = with_more(plain(BLUE), 110)
    assert set((made.alpha[300:] >= 128).sum(axis=1)) == {220}


def test_who_fills_the_photograph_has_fallen_nowhere_at_its_sides():
    assert with_more(plain(BLUE), 300).beside_mm == (0.0, 0.0)


def test_clothes_of_many_colours_pass_into_the_most_usual():
    rgb = plain(BLUE)
    rgb[:, 280:300] = (200, 30, 60)
    below = with_more(rgb, 110).rgb[-1, 190:410]
    assert np.abs(below.astype(int) - BLUE).max() <= 1


def test_nobody_is_given_bare_shoulders():
    red, green, blue = with_more(plain(SKIN), 110).rgb[-1, 300].tolist()
    assert red == green == blue


def test_shoulders_reach_and_fall_are_one_line():
    out_mm = np.array([0.0, 20.0, 90.0, 200.0])
    np.testing.assert_allclose(shoulders_reach_mm(shoulders_fall_mm(out_mm)), out_mm, atol=1e-9)
