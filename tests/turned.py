"""How far one rotation is from another, for tests."""

import numpy as np


def angle_between_deg(first, second):
    """Smallest turn in degrees, 0..180, that carries one rotation into the other.

    Uses the skew part as well as the trace, so that small angles keep their digits.
    """
    between = first.T @ second
    skew = np.array(
        [
            between[2, 1] - between[1, 2],
            between[0, 2] - between[2, 0],
            between[1, 0] - between[0, 1],
        ]
    )
    return float(np.degrees(np.arctan2(np.linalg.norm(skew), np.trace(between) - 1.0)))
