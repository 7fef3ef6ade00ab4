"""The sitter's own zero: the head turned so that its level pose is neutral, and kept as values.

A set-up's angles count from the head's neutral pose. The mean head's neutral pose is a convention
and may be some degrees off this sitter's; their own level frame settles it.
"""

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr
from sitwell.head.surface import Head, build_head
from sitwell.head.template import load_template

Matrix = NDArray[np.float64]


def level_head(head: Head, neutral: Matrix) -> Head:
    """The head with ``neutral`` (3, 3), the rotation of its level pose, taken as its own zero.

    It turns about the eye midpoint, which stays the origin.
    """
    turn = np.asarray(neutral, dtype=np.float32)
    return dataclasses.replace(
        head,
        vertices_mm=head.vertices_mm @ turn.T,
        neck_pivot_mm=turn @ head.neck_pivot_mm,
        eye_centre_mm={side: turn @ centre for side, centre in head.eye_centre_mm.items()},
    )


def head_as_dict(head: Head, neutral: Matrix) -> dict[str, Any]:
    """What rebuilds a fitted head, in plain values: sliders that are not 0, hairline, zero.

    ``head`` is the fitted head before levelling. These values describe a face.
    """
    names = load_template().shape_names
    sliders = zip(names, head.shape.tolist(), strict=True)
    return {
        "shape": {name: round(value, 4) for name, value in sliders if abs(value) >= 5e-5},
        "hairline_mm": round(float(head.hairline_mm), 2),
        "neutral": np.asarray(neutral, dtype=np.float64).tolist(),
    }


def head_from_dict(content: Mapping[str, Any]) -> Head:
    """The levelled head from what ``head_as_dict`` gave; HeadError where it is damaged."""
    try:
        shape = {str(name): float(value) for name, value in content["shape"].items()}
        hairline_mm = float(content["hairline_mm"])
        neutral = np.array(content["neutral"], dtype=np.float64).reshape(3, 3)
        rotates = np.abs(neutral @ neutral.T - np.eye(3)).max() < 1e-6
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as problem:
        raise HeadError(
            tr(
                "The kept head is damaged near {problem}; read the sitter's frames again.",
                problem=problem,
            )
        ) from problem
    if not rotates:
        raise HeadError(tr("The kept head's zero is no rotation; read the sitter's frames again."))
    return level_head(build_head(shape, hairline_mm=hairline_mm), neutral)
