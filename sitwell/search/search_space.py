"""One sitter's part of a search: what may be chosen and moved, and one vector of what is seen.

The vector of a set-up is the picture's measures, then the set-up's own numbers, then a few facts
of the studio (clearances, where the key stands beside the face), each under one name, so that
aims and guards can ask for any of them in the same way.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from sitwell.scene.framing import BROW_TO_HAIRLINE_CUT
from sitwell.scene.setup import Setup
from sitwell.search.choices import (
    SETUP_NAMES,
    Choice,
    Means,
    check_request,
    make_choices,
    usual_choice,
)
from sitwell.search.clearances import STUDIO_NAMES, studio_facts
from sitwell.search.moves import MOVES, Move
from sitwell.search.prominence import both_ears

Vector = NDArray[np.float64]


# Measures of both eyes taken together, for guards that ask for one number.
TOGETHER: Mapping[str, tuple[Callable[[Vector], float], tuple[str, str]]] = {
    "catchlights": (np.sum, ("catchlight_own_left", "catchlight_own_right")),
    "white_below": (np.max, ("white_below_own_left", "white_below_own_right")),
}

# What is made of several measures at once, in this order after all others.
OF_ALL = ("forehead_in_picture", "ear_prominence")


class Evaluator(Protocol):
    """Anything that turns a set-up into measures."""

    def evaluate(self, setup: Setup) -> Vector:
        """Measures of one set-up, always in the same order."""
        ...


@dataclass(slots=True, kw_only=True)
class SearchSpace:
    """Everything that is fixed for one sitter in a search; build it with ``set_search_space``."""

    evaluator: Evaluator
    measure_names: tuple[str, ...]
    names: tuple[str, ...]
    means: Means
    plain: Setup
    choices: tuple[Choice, ...]
    usual: int
    free_indices: list[int]
    place: Mapping[str, int]
    seen: dict[Setup, Vector] = field(default_factory=dict)

    @property
    def free(self) -> tuple[Move, ...]:
        """The moves that can be searched: those that some choice leaves room for."""
        return tuple(MOVES[index] for index in self.free_indices)

    def vector(self, setup: Setup) -> Vector:
        """The vector of a set-up, looked at once."""
        if setup not in self.seen:
            measures = np.asarray(self.evaluator.evaluate(setup), dtype=np.float64)
            own = [getattr(setup, name) for name in SETUP_NAMES]
            together = [combine(measures[places]) for combine, places in self._together()]
            forehead = measures[self.place["forehead_share"]] * (
                BROW_TO_HAIRLINE_CUT if setup.crop == "into-forehead" else 1.0
            )
            ears = both_ears(lambda name: float(measures[self.place[name]]))
            self.seen[setup] = np.concatenate(
                [measures, own, self._facts(setup), together, [forehead, ears]]
            )
        return self.seen[setup]

    def reader(self, vector: Vector) -> Callable[[str], float]:
        """Read one quantity of a vector by its name."""
        return lambda name: float(vector[self.place[name]])

    def _together(self) -> list[tuple[Callable[[Vector], float], list[int]]]:
        return [
            (combine, [self.place[part] for part in parts]) for combine, parts in TOGETHER.values()
        ]

    def _facts(self, setup: Setup) -> list[float]:
        choice = next((c for c in self.choices if _made(setup, c)), self.choices[self.usual])
        return studio_facts(
            setup,
            camera=self.means.camera,
            lens=choice.lens,
            light=choice.light,
            room=self.means.room,
            comfort=self.means.comfort,
        )


def set_search_space(
    evaluator: Evaluator,
    measure_names: Sequence[str],
    means: Means,
    *,
    framing: str,
    aspect: str,
    crops: Sequence[str],
) -> SearchSpace:
    """A space for one search; RoomError, KitError or SetupError where none can stand."""
    check_request(means, framing, aspect)
    plain = Setup(
        sensor_width_mm=means.camera.sensor_width_mm,
        sensor_height_mm=means.camera.sensor_height_mm,
        key_azimuth_deg=0.0,
        background_distance_mm=means.room.background_distance_mm,
        framing=framing,
        aspect=aspect,
    )
    choices = make_choices(means, plain, crops)
    names = (*measure_names, *SETUP_NAMES, *STUDIO_NAMES, *TOGETHER, *OF_ALL)
    return SearchSpace(
        evaluator=evaluator,
        measure_names=tuple(measure_names),
        names=names,
        place={name: index for index, name in enumerate(names)},
        means=means,
        plain=plain,
        choices=choices,
        usual=usual_choice(means, choices),
        free_indices=[
            index
            for index in range(len(MOVES))
            if any(choice.high[index] > choice.low[index] for choice in choices)
        ],
    )


def _made(setup: Setup, choice: Choice) -> bool:
    low_deg, high_deg = choice.light.azimuth_deg
    same = (choice.focal_mm, choice.light.size_mm) == (setup.focal_mm, setup.key_size_mm)
    return same and low_deg <= setup.key_azimuth_deg <= high_deg
