"""The mean head and the ways it varies, loaded from the bundled data file.

Where the data comes from, how it was sized and what it can't do: docs/head.md.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr
from sitwell.head.regions import Region

DATA = Path(__file__).parent / "data" / "head.npz"
STEP_MM = 0.01  # one unit of the fixed-point displacements in the data file

Floats = NDArray[np.float32]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """The mean head with its shape and expression directions, in the head frame.

    Head frame: millimetres, origin midway between the eyeballs' centres, +x the sitter's own
    left, +y up, +z forward. V vertices, T triangles (counter-clockwise seen from outside).

    ``shape_mm`` (K, V, 3) is the displacement per unit of each slider, ``shape_sigma`` (K,) the
    slider's spread over the population. ``even_mm`` (B, V, 3) is what the sliders ``even_index``
    add per unit of their absolute value, because their two ends are not opposites.
    ``expression_mm`` (E, V, 3) is the displacement at 1. ``landmark_triangle`` (478,) holds the
    triangle under each face landmark, -1 where there is none, with barycentric
    ``landmark_weights`` (478, 3). ``points`` maps a name to its triangle and weights.
    ``lid_vertices`` holds, for each eye, the skin vertices that must stay outside the eyeball,
    ``eyeball_vertices`` the eyeball's own, their first being the pupil. ``bare_region`` (T,) is
    the region a triangle has where no hair grows, ``hairline_height_mm`` (T,) how far it lies
    above the mean hairline along the skin (nan off the skull), ``hairline_walk`` a point of the
    midline for each whole millimetre of that height.
    """

    vertices_mm: Floats
    triangles: Ints
    region_of_triangle: NDArray[np.uint8]
    shape_names: tuple[str, ...]
    shape_mm: Floats
    shape_sigma: Floats
    even_index: Ints
    even_mm: Floats
    expression_names: tuple[str, ...]
    expression_mm: Floats
    landmark_triangle: Ints
    landmark_weights: Floats
    points: Mapping[str, tuple[int, Floats]]
    neck_pivot_mm: Floats
    eye_centre_mm: Mapping[str, Floats]
    eye_radius_mm: float
    eyeball_vertices: Mapping[str, Ints]
    lid_vertices: Mapping[str, Ints]
    bare_region: NDArray[np.uint8]
    hairline_height_mm: Floats
    hairline_walk: Mapping[int, tuple[int, Floats]]


@cache
def load_template(path: Path = DATA) -> Template:
    """The mean head from the data file (read once a process); raises HeadError if it can't be."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            arrays = {name: stored[name] for name in stored.files}
        return _unpack(arrays)
    except (OSError, ValueError, KeyError, EOFError) as error:
        raise HeadError(
            tr(
                "The head data {file} can't be read ({error}); install sitwell again.",
                file=path.name,
                error=error,
            )
        ) from error


def _unpack(stored: Mapping[str, NDArray[Any]]) -> Template:
    vertices = stored["vertices_mm"].astype(np.float32)
    bare, height = stored["bare_region"], stored["hairline_height_mm"].astype(np.float32)
    return Template(
        vertices_mm=vertices,
        triangles=stored["triangles"].astype(np.int32),
        region_of_triangle=regions_with_hairline(bare, height, 0.0),
        shape_names=tuple(stored["shape_names"].tolist()),
        shape_mm=_displacements(stored, "shape", len(vertices)),
        shape_sigma=stored["shape_sigma"].astype(np.float32),
        even_index=stored["even_index"].astype(np.int32),
        even_mm=_displacements(stored, "even", len(vertices)),
        expression_names=tuple(stored["expression_names"].tolist()),
        expression_mm=_displacements(stored, "expression", len(vertices)),
        landmark_triangle=stored["landmark_triangle"].astype(np.int32),
        landmark_weights=stored["landmark_weights"].astype(np.float32),
        points=_anchors(stored["point_names"].tolist(), stored, "point"),
        neck_pivot_mm=stored["neck_pivot_mm"].astype(np.float32),
        eye_centre_mm=_sides(stored, "eye_centre_mm", np.float32),
        eye_radius_mm=float(stored["eye_radius_mm"]),
        eyeball_vertices=_sides(stored, "eyeball_vertices", np.int32),
        lid_vertices=_sides(stored, "lid_vertices", np.int32),
        bare_region=bare,
        hairline_height_mm=height,
        hairline_walk=_anchors(stored["walk_height_mm"].astype(np.int32).tolist(), stored, "walk"),
    )


def regions_with_hairline(
    bare_region: NDArray[np.uint8], height_mm: Floats, hairline_mm: float
) -> NDArray[np.uint8]:
    """Regions (T,) with scalp wherever the skull is higher than ``hairline_mm``."""
    # a comparison with nan is false, so what is not skull keeps its region
    return np.where(height_mm > hairline_mm, np.uint8(Region.SCALP), bare_region)


def _anchors(
    names: list[Any], stored: Mapping[str, NDArray[Any]], kind: str
) -> dict[Any, tuple[int, Floats]]:
    triangles, weights = stored[f"{kind}_triangle"].tolist(), stored[f"{kind}_weights"]
    return dict(zip(names, zip(triangles, weights.astype(np.float32), strict=True), strict=True))


def _sides(stored: Mapping[str, NDArray[Any]], name: str, kind: Any) -> dict[str, NDArray[Any]]:
    return {side: stored[f"{name}_{side}"].astype(kind) for side in ("own_left", "own_right")}


def _displacements(stored: Mapping[str, NDArray[Any]], name: str, count: int) -> Floats:
    """Rows of whole steps for the moved vertices only, spread out to (rows, V, 3) millimetres."""
    moved = np.unpackbits(stored[f"{name}_moved"], count=None).astype(bool)
    rows = int(stored[f"{name}_rows"])
    dense = np.zeros((rows * count, 3), dtype=np.float32)
    dense[moved[: rows * count]] = stored[f"{name}_steps"].T * np.float32(STEP_MM)
    return dense.reshape(rows, count, 3)
