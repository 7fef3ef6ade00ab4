"""What the landmarker's own guess at the expression says about the head's expression sliders."""

import re
from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.template import load_template

# The guesses are coarse: what they show is taken at most of its value and loosely, what they
# don't show is held near rest. Gaze moves lids and irises only, so the fit leaves it at rest.
_TAKEN = 0.7
_SIGMA_AT_REST, _SIGMA_PER_GUESS = 0.1, 0.4
_SIGMA_OF_GAZE = 1e-4

Array = NDArray[np.float64]


def expected_expression(guesses: Mapping[str, float]) -> tuple[Array, Array]:
    """Expected value (E,) and one sigma (E,) of the expression sliders, from blendshapes 0..1."""
    values = np.array([guesses.get(name, 0.0) for name in _guess_names()])
    sigma = _SIGMA_AT_REST + _SIGMA_PER_GUESS * values
    gaze = np.array([name.startswith("eye_look") for name in load_template().expression_names])
    return np.where(gaze, 0.0, _TAKEN * values), np.where(gaze, _SIGMA_OF_GAZE, sigma)


@cache
def _guess_names() -> tuple[str, ...]:
    """The landmarker's name for each slider: mouth_smile_own_left is its mouthSmileLeft."""
    return tuple(_camel(name) for name in load_template().expression_names)


def _camel(name: str) -> str:
    plain = name.replace("_own_left", "_left").replace("_own_right", "_right")
    return re.sub(r"_(\w)", lambda found: found.group(1).upper(), plain)
