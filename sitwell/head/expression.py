"""What the landmarker's own guess at the expression says about the head's expression sliders."""

import re
from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.template import load_template

# How much of a guess is taken, as a regression on renders of 260 invented heads gives it: blinks,
# smiles and open mouths are seen, the rest mostly follows the shape of a face at rest. A squint is
# guessed at 0.2 to 0.6 on faces that don't squint. Where nothing is said, a unit is rarely used.
_TAKEN = {
    "eye_blink": 1.0,
    "mouth_smile": 0.9,
    "jaw_open": 1.0,
    "eye_squint": 0.3,
    "brow_inner_up": 0.3,
    "mouth_press": 0.4,
    "mouth_upper_up": 0.5,
}
_TAKEN_OF_OTHERS = 0.1
_SIGMA_AT_REST, _SIGMA_PER_GUESS = 0.1, 0.4
# Gaze moves lids and irises only, so the fit leaves it at rest unless an iris is marked.
_SIGMA_OF_GAZE, _SIGMA_OF_MARKED_GAZE = 1e-4, 0.3

Array = NDArray[np.float64]


def expected_expression(
    guesses: Mapping[str, float], *, gaze_marked: bool = False
) -> tuple[Array, Array]:
    """Expected value (E,) and one sigma (E,) of the expression sliders, from blendshapes 0..1."""
    values = np.array([guesses.get(name, 0.0) for name in _guess_names()])
    taken, gaze = _taken_and_gaze()
    sigma = _SIGMA_AT_REST + _SIGMA_PER_GUESS * values * np.maximum(taken, 0.3)
    of_gaze = _SIGMA_OF_MARKED_GAZE if gaze_marked else _SIGMA_OF_GAZE
    return np.where(gaze, 0.0, taken * values), np.where(gaze, of_gaze, sigma)


@cache
def _taken_and_gaze() -> tuple[Array, NDArray[np.bool_]]:
    """How much of each slider's guess is taken (E,), and which sliders are gaze (E,)."""
    names = load_template().expression_names
    stems = [name.replace("_own_left", "").replace("_own_right", "") for name in names]
    taken = np.array([_TAKEN.get(stem, _TAKEN_OF_OTHERS) for stem in stems])
    return taken, np.array([stem.startswith("eye_look") for stem in stems])


@cache
def _guess_names() -> tuple[str, ...]:
    """The landmarker's name for each slider: mouth_smile_own_left is its mouthSmileLeft."""
    return tuple(_camel(name) for name in load_template().expression_names)


def _camel(name: str) -> str:
    plain = name.replace("_own_left", "_left").replace("_own_right", "_right")
    return re.sub(r"_(\w)", lambda found: found.group(1).upper(), plain)
