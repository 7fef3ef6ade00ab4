"""The hatch over what no frame has shown."""

import numpy as np
from numpy.testing import assert_allclose

from sitwell.likeness.hatch import hatch_line


def test_the_hatch_is_a_quiet_pattern_of_lines():
    lines = np.array([[hatch_line(r, c, 800) for c in range(80)] for r in range(80)])
    assert 0.25 < lines.mean() < 0.7
    assert_allclose(lines[1:, :-1], lines[:-1, 1:])  # lines run one way, at 45 degrees
