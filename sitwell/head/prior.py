"""How widely heads are taken to vary: the spread of each shape slider.

The template's spreads reproduce the sizes of a population, but leave its left and right nearly
alike. On light-stage scans of people a nose's tip lies 0.47 mm off the mid-plane and the eyes'
openings differ by 3.4 % at one sigma, a little smoothed; lids 1 mm or more apart in 5.7 % of 88
people come to 5.5 % (Lam and others). A fit starts from a little more, 0.9 mm and 5.5 %, all
sliders together: noses that were broken are met as well, and what a picture shows of a nose is sure
enough to rule.

Invented heads that something is learned from are drawn twice as uneven.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from sitwell.head.template import load_template

_UNEVEN = {"nose_lean": 0.21, "mouth_shift": 0.1, "eye_opening_uneven": 0.065}
_UNEVEN_STEMS = (("asym_nose", "", 0.105), ("asym_eye", "", 0.065), ("eye_", "_uneven", 0.042))
_LEARNED_MORE = 2.1


@cache
def shape_sigma() -> NDArray[np.float64]:
    """One sigma (K,) of the shape sliders that a fit starts from, in slider units."""
    return _sigma(1.0)


@cache
def drawn_sigma() -> NDArray[np.float64]:
    """One sigma (K,) of the shape sliders of heads to learn from, in slider units."""
    return _sigma(_LEARNED_MORE)


def _sigma(times: float) -> NDArray[np.float64]:
    """The template's spreads, unevenness as people's so many times."""
    template = load_template()
    sigma = template.shape_sigma.astype(np.float64)
    for index, name in enumerate(template.shape_names):
        uneven = _UNEVEN.get(name, _by_stem(name))
        sigma[index] = sigma[index] if uneven is None else times * uneven
    return sigma


def _by_stem(name: str) -> float | None:
    for start, end, uneven in _UNEVEN_STEMS:
        if name.startswith(start) and name.endswith(end):
            return uneven
    return None
