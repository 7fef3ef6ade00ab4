"""A sitter's own skin: what is painted on the head in a preview, and what no frame saw."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.words import number, tr
from sitwell.scene.paint import Paint

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeColours:
    """Linear colours (3,) of one eye's white and iris, and the pupil's radius."""

    white: Floats
    iris: Floats
    pupil_mm: float

    def exposed(self, factor: float) -> "EyeColours":
        """The same under so much more or less exposure."""
        return EyeColours(
            white=self.white * factor, iris=self.iris * factor, pupil_mm=self.pupil_mm
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Skin:
    """Paint for the finer triangles (4T) of a head's preview, and for its eyes.

    ``known`` (T,) is how much of each of the head's own triangles a frame saw, 0 to 1;
    ``luminance`` is the facing skin's in the frames, 1 being full white.
    """

    paint: Paint
    known: Floats
    eyes: Mapping[str, EyeColours]
    luminance: float
    files: tuple[str, ...]

    def caption(self, unknown_share: float) -> str:
        """One sentence for under a picture: whose frames it is from, and what they don't show."""
        *more, names = self.files
        if more:
            names = tr("{some} and {last}", some=", ".join(more), last=names)
        return tr(
            "The skin is from {names}: what was in no frame ({percent} % of the head in view) is "
            "hatched, and hair lies flat on the head.",
            names=names,
            percent=number(max(100.0 * unknown_share, 1.0), 0),
        )
