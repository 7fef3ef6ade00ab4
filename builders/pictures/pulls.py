"""Faces pulled by invented heads: smiles, blinks, squints, brows and open mouths."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_FIDGET = 0.2
# units that go together, how often, and how far at most
_FACES_PULLED = (
    ({"mouth_smile": 1.0, "cheek_squint": 0.5, "mouth_upper_up": 0.4, "eye_squint": 0.3}, 0.4, 0.9),
    ({"eye_squint": 1.0}, 0.15, 0.7),
    ({"eye_blink": 1.0}, 0.1, 1.0),
    ({"brow_inner_up": 1.0, "brow_outer_up": 0.8}, 0.15, 0.6),
    ({"brow_down": 1.0}, 0.1, 0.5),
    ({"jaw_open": 1.0}, 0.15, 0.4),
    ({"mouth_press": 1.0}, 0.1, 0.5),
    ({"mouth_pucker": 1.0}, 0.05, 0.5),
)


def pulled_face(rng: np.random.Generator, names: Sequence[str]) -> Array:
    """Still faces half of the time, otherwise smiles, blinks, brows and open mouths; never even."""
    amounts = dict.fromkeys(names, 0.0)
    for units, share, most in _FACES_PULLED:
        if rng.random() < share:
            strength = rng.uniform(0.1, most)
            for unit, part in units.items():
                for name in (unit, f"{unit}_own_left", f"{unit}_own_right"):
                    if name in amounts:
                        amounts[name] += strength * part * rng.uniform(0.8, 1.0)
    values = np.array(list(amounts.values()))
    fidget = np.where(rng.random(len(names)) < 0.1, rng.random(len(names)) * _FIDGET, 0.0)
    return np.asarray(np.clip(values + fidget, 0.0, 1.0))
