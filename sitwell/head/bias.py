"""How the landmarker errs: where its landmarks slide as the head turns, and how they scatter.

Learned from pictures of invented heads by ``builders/learned/build_landmark_bias.py``, and anew on
two families of heads by ``builders/learned/relearn_bias.py``. Everything is in millimetres at the
face, in picture axes turned upright with the head (x camera right, y up), and in few coordinates:
the directions in which faces, poses and errors move the landmarks together.
"""

import dataclasses
import io
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr

DATA = Path(__file__).parent / "data" / "landmark_bias.npz"
LEARNED_TURN_DEG = 45.0  # the renders went this far
# The offset was learned on turns to 70 degrees, but few beyond this; it stays what it is here.
TURN_LIMIT_DEG, CHIN_LIMIT_DEG = 60.0, 20.0
# Renders are cleaner than photographs: each landmark errs by about 0.4 mm more, by itself.
OTHER_PICTURES_MM = 0.9  # along each direction

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LandmarkBias:
    """The landmarker's error on the N used landmarks, in M coordinates.

    ``directions`` (M, 2N) are unit vectors over the landmarks' x, y, x, y, ... in mm. ``offset``
    (T, M) are the weights of the terms of ``pose_terms``. The landmarker draws every face toward
    an average one: a departure (M,) from the mean head comes back as departure @ (1 + ``answer``),
    ``answer`` (M, M). What is left varies by frame with covariance ``by_frame`` (M, M), and by
    sitter, the same in each of their frames, with ``by_sitter`` (M, M). ``spread_scale`` (3,)
    makes the spread of turn, chin and tilt honest on heads kept out of the learning.
    """

    directions: Array
    offset: Array
    answer: Array
    by_frame: Array
    by_sitter: Array
    spread_scale: Array

    def at(self, turn_deg: float, chin_deg: float) -> Array:
        """Mean offset (M,) of the landmarks at a seen turn and chin."""
        return np.asarray(pose_terms(turn_deg, chin_deg) @ self.offset)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """How far to trust landmarks: the bias's covariances in the forms that equations use.

    ``in_frame`` (M, M) is the precision beside the sitter's own error, ``sitter_modes`` (S, M) that
    error by strength; ``in_all`` (M, M) is the precision with both taken together.
    """

    in_frame: Array
    sitter_modes: Array
    in_all: Array


@lru_cache(maxsize=4)
def trust_in(bias: LandmarkBias) -> Trust:
    """The bias's trust, worked out once for each bias."""
    strength, directions = np.linalg.eigh(bias.by_sitter)
    strong = strength > 1e-3 * strength.max() if strength.max() > 0 else strength > 0
    return Trust(
        in_frame=np.asarray(np.linalg.inv(bias.by_frame), dtype=np.float64),
        sitter_modes=(directions[:, strong] * np.sqrt(strength[strong])).T,
        in_all=np.asarray(np.linalg.inv(bias.by_frame + bias.by_sitter), dtype=np.float64),
    )


def pose_terms(turn_deg: float, chin_deg: float) -> Array:
    """The ten polynomial terms to the third order in turn and chin, each scaled to about 1."""
    t = np.clip(turn_deg, -TURN_LIMIT_DEG, TURN_LIMIT_DEG) / 30.0
    c = np.clip(chin_deg, -CHIN_LIMIT_DEG, CHIN_LIMIT_DEG) / 15.0
    return np.array([1.0, t, c, t * t, t * c, c * c, t**3, t * t * c, t * c * c, c**3])


@cache
def load_bias(path: Path = DATA) -> LandmarkBias:
    """The learned error from the data file (read once a process); HeadError if it can't be."""
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as stored:
            arrays = {name: stored[name].astype(np.float64) for name in stored.files}
        learned = LandmarkBias(**arrays)
        apart = OTHER_PICTURES_MM**2 * np.eye(len(learned.by_frame))
        return dataclasses.replace(learned, by_frame=learned.by_frame + apart)
    except (OSError, ValueError, KeyError, TypeError, EOFError, BadZipFile) as error:
        raise HeadError(
            tr(
                "The landmark data {file} can't be read ({error}); install sitwell again.",
                file=path.name,
                error=error,
            )
        ) from error
