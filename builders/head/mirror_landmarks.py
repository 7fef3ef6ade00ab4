"""Writes which landmark a mirror puts in each one's place.

Run from the repository: ``python -m builders.head.mirror_landmarks``.

Read off the mean head, which is the same on both sides: each landmark's partner is the one nearest
to its mirror image. Of an iris's five, centre, and four around it, those to the sides change.
"""

import numpy as np
from numpy.typing import NDArray

from sitwell.base.files import write_atomically
from sitwell.face.mirror import DATA
from sitwell.head.basis import landmark_basis

_IRISES, _TURNED = (468, 473), np.array([0, 3, 2, 1, 4])


def partners() -> NDArray[np.int64]:
    """The partner (478,) of each landmark."""
    mean_mm = landmark_basis().mean_mm
    away = np.linalg.norm(mean_mm[:, None] - mean_mm[None] * (-1.0, 1.0, 1.0), axis=2)
    turned = (away.argmin(axis=1), _IRISES[1] + _TURNED, _IRISES[0] + _TURNED)
    return np.concatenate(turned).astype(np.int64)


def main() -> None:
    """Write the table, sixteen to a line."""
    lines = [" ".join(map(str, row)) for row in np.array_split(partners(), 30)]
    write_atomically(DATA, ("\n".join(lines) + "\n").encode("ascii"))


if __name__ == "__main__":
    main()
