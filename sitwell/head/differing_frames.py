"""Which of many frames show a head from sides as unlike as can be."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray


def most_unlike(
    poses_deg: NDArray[np.float64],
    most: int,
    *,
    apart_deg: float = 0.0,
    instead: Callable[[int], int] = int,
) -> list[int]:
    """At most ``most`` of the poses (N, 2), turn and chin: the squarest, then the farthest from
    those taken, while one is ``apart_deg`` away; in the order taken.

    ``instead`` names the one to take for each, nearer to it than half of ``apart_deg``.
    """
    taken = [instead(int(np.argmin(np.linalg.norm(poses_deg, axis=1))))]
    while len(taken) < most:
        away = np.linalg.norm(poses_deg[:, None] - poses_deg[taken], axis=2).min(axis=1)
        away[taken] = -1.0  # never again, not even where all poses are alike
        if away.max() < apart_deg:
            break
        taken.append(instead(int(np.argmax(away))))
    return taken
