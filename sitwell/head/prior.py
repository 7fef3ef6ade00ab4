"""How widely heads are taken to vary: the spread of each shape slider that a fit starts from.

The template's spreads reproduce the sizes of a population, but leave its left and right nearly
alike. People are less even, and an unevenness that a fit takes for all but impossible is never
read. No published spread is at hand for most of these, so the widths below are a judgement: a nose
leans by some 2 mm and two eyes differ in opening by some 12 % at one sigma, all sliders together.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.template import load_template

_WIDENED = {
    "nose_lean": 0.4,
    "mouth_shift": 0.2,
    "eye_opening_uneven": 0.16,
}
_WIDENED_STEMS = (("asym_nose", "", 0.2), ("asym_eye", "", 0.16), ("eye_", "_uneven", 0.09))


@cache
def shape_sigma() -> NDArray[np.float64]:
    """One sigma (K,) of the shape sliders, in slider units."""
    template = load_template()
    sigma = template.shape_sigma.astype(np.float64)
    for index, name in enumerate(template.shape_names):
        sigma[index] = _WIDENED.get(name, _by_stem(name, sigma[index]))
    return sigma


def _by_stem(name: str, otherwise: float) -> float:
    for start, end, widened in _WIDENED_STEMS:
        if name.startswith(start) and name.endswith(end):
            return widened
    return otherwise
