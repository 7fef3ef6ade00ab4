"""Sampling a region: its places against the picture's own, also where OpenCV takes no more."""

import numpy as np
import pytest

from sitwell.face.region import Region


@pytest.mark.parametrize("width", [4_000, 40_000])  # of a side, OpenCV samples 32,767 at most
def test_a_strip_is_sampled_whatever_its_length(width):
    ramp = np.linspace(0, 255, width).astype(np.uint8)
    rgb = np.broadcast_to(ramp[None, :, None], (50, width, 3))
    whole = Region(middle_px=np.array([width / 2, 25.0]), size_px=np.array([width, width]))
    made = whole.sampled(rgb, 128, black_beyond=True)
    assert made[64, ::32, 0] == pytest.approx([0, 63.75, 127.5, 191.25], abs=1.0)
    assert made[0].max() == 0  # above the strip there is nothing
