"""Previews: the quick way gives the picture that the slow way gives."""

from functools import partial

import numpy as np
import pytest

from builders.pictures.plain_frames import SHAPE, painted
from sitwell.head.surface import build_head
from sitwell.scene import preview
from sitwell.scene.preview_shade import shade
from sitwell.scene.setup import Setup

SETUPS = {
    "soft": Setup(),
    "steep": Setup(turn_deg=30.0, key_azimuth_deg=-45.0, key_elevation_deg=40.0, fill_ratio=4.0),
    "hard": Setup(turn_deg=-20.0, key_azimuth_deg=80.0, key_elevation_deg=10.0, key_size_mm=200.0),
}


@pytest.fixture(scope="module")
def sculpture():
    return painted(build_head(SHAPE))


@pytest.mark.parametrize("setup", SETUPS.values(), ids=SETUPS)
@pytest.mark.parametrize("size_px", [(192, 240), (640, 800)])
def test_sharing_light_between_pixels_cannot_be_seen(sculpture, setup, size_px, monkeypatch):
    quick = sculpture.render(setup, *size_px).astype(int)
    monkeypatch.setattr(preview, "shade", partial(shade, alike=-1.0))
    slow = sculpture.render(setup, *size_px).astype(int)
    off = np.abs(quick - slow).max(axis=2)
    assert off.max() > 0  # else the slow way was not taken
    # of 255 levels; pinned from our own output, where lone pixels in creases differ by up to 45
    assert off.max() < 64
    assert (off > 1).mean() < 0.002
    assert (off > 4).mean() < 0.0005
    assert off.mean() < 0.05


@pytest.mark.parametrize(("azimuth_deg", "side"), [(140.0, 1), (-140.0, -1)])
def test_a_rim_light_brightens_the_outline_on_its_own_side_and_darkens_nothing(
    sculpture, azimuth_deg, side
):
    setup = Setup(rim_azimuth_deg=azimuth_deg, key_azimuth_deg=0.0)
    plain = sculpture.render(setup, 240, 300).astype(int)
    lit = sculpture.render(setup.with_changes(rim="on"), 240, 300).astype(int)
    gain = (lit - plain).sum(axis=2)
    assert (gain < -3).mean() < 0.001  # some pixels' light is shared anew
    columns = np.arange(240)[None, :] - 119.5
    total = np.maximum(gain, 0)
    assert (total * (side * columns > 0)).sum() > 10 * (total * (side * columns < 0)).sum()
    face = total[140:165, 110:130]  # between the eyes and the mouth, it faces the lens
    assert face.max() <= 6
