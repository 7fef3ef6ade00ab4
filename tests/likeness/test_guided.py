"""The guided filter, held against what its paper says that it does."""

import numpy as np

from sitwell.likeness.guided import guided

RADIUS_PX, LEAST = 3, 1e-4


def test_an_edge_in_the_guide_stays_sharp_however_dark_it_is():
    guide = np.full((40, 40), 0.02, dtype=np.float32)  # hair
    guide[:, 20:] = 0.12  # before a wall in shade
    share = (guide < 0.05).astype(np.float32)
    found = guided(share, guide, RADIUS_PX, LEAST)
    assert np.abs(found - share).max() < 0.1


def test_where_the_guide_is_even_values_are_smoothed():
    noise = np.random.default_rng(3).random((40, 40), dtype=np.float32)
    found = guided(noise, np.full((40, 40), 0.5, dtype=np.float32), RADIUS_PX, LEAST)
    assert found.std() < 0.3 * noise.std()


def test_a_straight_function_of_the_guide_is_kept():
    guide = np.random.default_rng(4).random((40, 40), dtype=np.float32)
    found = guided(0.7 * guide + 0.1, guide, RADIUS_PX, LEAST)
    np.testing.assert_allclose(found, 0.7 * guide + 0.1, atol=2e-3)
