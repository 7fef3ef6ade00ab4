"""How widely heads are taken to vary: the spread of each shape slider.

The template's spreads reproduce the sizes of a population, but leave its left and right nearly
alike. People are less even, and an unevenness that a fit takes for all but impossible is never
read. No published spread is at hand for most of these, so the widths below are a judgement: a nose
leans by some 2 mm and two eyes differ in opening by some 12 % at one sigma, all sliders together.

Invented heads are drawn so. A fit starts from noses that lean twice as widely: what the picture
shows of a nose is sure enough to rule, and a nose that leans in a way that the sliders only come
near to was drawn toward straight before (benchmarks/accuracy_other_faces.py).
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


_NOSE_STEMS = ("nose_lean", "asym_nose")
_NOSE_FREEDOM = 2.0


@cache
def shape_sigma() -> NDArray[np.float64]:
    """One sigma (K,) of the shape sliders that a fit starts from, in slider units."""
    names = load_template().shape_names
    free = np.array([name.startswith(_NOSE_STEMS) for name in names])
    return drawn_sigma() * np.where(free, _NOSE_FREEDOM, 1.0)


@cache
def drawn_sigma() -> NDArray[np.float64]:
    """One sigma (K,) of the shape sliders of invented heads, in slider units."""
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
