"""A sitter's own skin: what is painted on the head in a preview, and what no frame saw."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.words import number, tr
from sitwell.head.facing import vertex_normals
from sitwell.head.regions import Region
from sitwell.scene.paint import Paint

Floats = NDArray[np.float64]

# where hair seldom falls; the mean colour of what of it faces ahead is the sitter's tone
TONE_REGIONS = (Region.CHEEK_OWN_LEFT, Region.CHEEK_OWN_RIGHT, Region.NOSE_RIDGE)
NO_WEIGHT = 1e-60
FRONT_COSINE = 0.7  # of the middle of the face: where cheeks turn aside it ends


def middle_of_face(
    vertices_mm: Floats, triangles: NDArray[np.int32], region: NDArray[np.integer]
) -> NDArray[np.bool_]:
    """Which triangles (T,) of a head are the middle of its face, by their region and normal."""
    normals = vertex_normals(vertices_mm, triangles)[triangles].mean(axis=1)
    ahead = normals[:, 2] > FRONT_COSINE * np.linalg.norm(normals, axis=1)
    return np.asarray(np.isin(region, TONE_REGIONS) & ahead)


def lightness_mean(light: NDArray[np.floating], weight: NDArray[np.floating]) -> Floats:
    """Mean (...,) of linear light (N, ...) as the eye takes it, by CIE lightness, its cube root.

    A plain mean is a shine's or a lit edge's more than the skin's: on glossy deep skin it was up to
    a stop above the median.
    """
    total = max(float(weight.sum()), NO_WEIGHT)
    return np.asarray(weight @ np.cbrt(light), dtype=np.float64) ** 3 / total**3


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
    ``luminance`` is that of the middle of the face in the frames, 1 being full white.
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
