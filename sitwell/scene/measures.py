"""Everything a picture of a head in a set-up shows, as named numbers (meanings: docs/measures.md).

``measure`` gives them by name; ``Evaluator`` gives them as an array, fast, for a search.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.regions import Region
from sitwell.head.surface import Head
from sitwell.scene import (
    crop_measures,
    ear_measures,
    eye_measures,
    focus_measures,
    glasses_measures,
    light_measures,
    nose_measures,
    rim_measures,
    shape_measures,
)
from sitwell.scene.definitions import Measure
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.lighting import Lighting
from sitwell.scene.outline import ROWS, outline_rows
from sitwell.scene.raster import extremes
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer, View

Floats = NDArray[np.float64]

MEASURES: tuple[Measure, ...] = (
    *shape_measures.MEASURES,
    *nose_measures.MEASURES,
    *ear_measures.MEASURES,
    *eye_measures.MEASURES,
    *focus_measures.MEASURES,
    *light_measures.MEASURES,
    *glasses_measures.MEASURES,
    *crop_measures.MEASURES,
    *rim_measures.MEASURES,
)
NAMES = tuple(row.name for row in MEASURES)
INDEX: Mapping[str, int] = {name: index for index, name in enumerate(NAMES)}


@dataclass(frozen=True, slots=True)
class Measures(Mapping[str, float]):
    """Measure by name, in the order of the table; a plain mapping otherwise."""

    values_in_order: Floats

    def __getitem__(self, name: str) -> float:
        return float(self.values_in_order[INDEX[name]])

    def __iter__(self) -> Iterator[str]:
        return iter(NAMES)

    def __len__(self) -> int:
        return len(NAMES)


def measure(head: Head, setup: Setup, worn: Glasses | None = None) -> Measures:
    """Every measure of one head in one set-up; use an Evaluator for many set-ups."""
    return Measures(Evaluator(head, worn).evaluate(setup))


class Evaluator:
    """Measures one head in many set-ups; not for two threads at once."""

    def __init__(
        self, head: Head, glasses: Glasses | None = None, like: "Evaluator | None" = None
    ) -> None:
        """Prepare a head; the shadows of one hardly unlike it are taken over, which is fast."""
        self._glasses = glasses
        self._observer = Observer(head)
        near = like._lighting if like else None
        self._lighting: Lighting = Lighting(self._observer.anatomy, near)
        self._shoulders = rim_measures.Shoulders(head)
        front = self._observer.view(Setup())
        self._frontal_ear = front.area(Region.EAR_OWN_LEFT), front.area(Region.EAR_OWN_RIGHT)
        self._left, self._right = np.empty(ROWS), np.empty(ROWS)

    def evaluate(self, setup: Setup) -> Floats:
        """All measures, in the order of MEASURES."""
        view = self._observer.view(setup)
        low, high = self._outline(view)
        cheeks = shape_measures.cheek_span(view)
        ears = ear_measures.ear_measures(
            view, self._frontal_ear, (self._left, self._right, low, high)
        )
        lit = self._lighting.light(view)
        return np.array(
            (
                *shape_measures.shape_measures(view, cheeks),
                *nose_measures.nose_measures(view, cheeks),
                *ears,
                *eye_measures.eye_measures(view),
                *focus_measures.focus_measures(view),
                *light_measures.light_measures(view, lit, (ears[2], ears[3])),
                *glasses_measures.glare_measures(view, self._glasses),
                *crop_measures.crop_measures(view),
                *rim_measures.rim_measures(view, lit, self._shoulders),
            )
        )

    def _outline(self, view: View) -> tuple[float, float]:
        """Fill the rows of the outline without nose and ears, over the ears' heights."""
        own_left, own_right = view.anatomy.ear_vertices
        spans = (
            extremes(view.u, view.v, own_left),
            extremes(view.u, view.v, own_right),
        )
        low, high = min(s[2] for s in spans), max(s[3] for s in spans)
        outline_rows(view.u, view.v, view.anatomy.outline_edges, low, high, self._left, self._right)
        return low, high
