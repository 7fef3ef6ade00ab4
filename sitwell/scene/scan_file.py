"""A scanned head's file: opened with trimesh, cleaned, as plain arrays in the file's own unit."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from sitwell.base.errors import HeadError
from sitwell.base.words import tr
from sitwell.brief.pictures import only_our_decoders

SUFFIXES = (".obj", ".ply", ".glb")
FEWEST_TRIANGLES = 500
MOST_TRIANGLES = 5_000_000
CELLS = 300  # the surface is thinned to this many cells along its longest side
FARTHEST = 1e9  # no corner of a scan lies so far out, in any unit
SMALL_PIECE = 0.02  # of the largest piece's area: less than this is dust

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A triangle mesh: vertices (V, 3), triangles (T, 3) counter-clockwise seen from outside.

    ``tone`` (V,) is how bright the scan's own colours are, 0 to 1, 1 where it has none.
    """

    vertices: Floats
    triangles: Ints
    tone: Floats


def load_scan(path: Path) -> Surface:
    """The cleaned surface of an OBJ, PLY or GLB file, its largest piece, thinned.

    Raises HeadError, naming the file, where it is missing, damaged, no surface, or far too large;
    or where trimesh, which reads it, is not installed.
    """
    _refuse(path)
    return cleaned(_opened(path), path.name)


def _refuse(path: Path) -> None:
    if path.suffix.lower() not in SUFFIXES:
        raise HeadError(
            tr(
                "'{file}' is no scan that can be read; give an OBJ, PLY or GLB file.",
                file=path.name,
            )
        )
    if not path.is_file():
        raise HeadError(tr("There is no scan '{file}'; check the name.", file=path))
    if path.stat().st_size == 0:
        raise HeadError(
            tr("The scan '{file}' is empty (0 bytes); export it again.", file=path.name)
        )


def _opened(path: Path) -> Surface:
    try:
        import trimesh
    except ImportError as error:
        raise HeadError(
            tr(
                "Scans are read with trimesh, which is not installed; run 'pip install "
                "sitwell[scan]' once.",
            )
        ) from error
    try:
        with only_our_decoders():  # for its textures
            mesh: Any = trimesh.load_mesh(path, process=False)
        vertices = np.asarray(mesh.vertices, dtype=np.float64).reshape(-1, 3)
        triangles = np.asarray(getattr(mesh, "faces", []), dtype=np.int64).reshape(-1, 3)
        return Surface(
            vertices=vertices, triangles=triangles.astype(np.int32), tone=_tone(mesh, len(vertices))
        )
    # a damaged file can fail anywhere in the reader, in many ways
    except Exception as error:
        raise HeadError(
            tr(
                "The scan '{file}' is damaged or holds no surface; export it again as OBJ, PLY "
                "or GLB.",
                file=path.name,
            )
        ) from error


def _tone(mesh: Any, count: int) -> Floats:
    try:
        visual = mesh.visual
        colours = np.asarray(getattr(visual, "vertex_colors", None))
        if getattr(visual, "kind", None) == "texture":
            colours = np.asarray(visual.to_color().vertex_colors)
        plain = getattr(visual, "kind", None) is None or colours.shape[0] != count
    except (AttributeError, ImportError, IndexError, ValueError):
        return np.ones(count)
    return np.ones(count) if plain else colours[:, :3].mean(axis=1) / 255.0


def cleaned(surface: Surface, name: str) -> Surface:
    """One piece, no doubles, outward; HeadError where too little or too much is left."""
    # A comparison with not-a-number is false, so this also refuses what is no number.
    finite = np.asarray((np.abs(surface.vertices) < FARTHEST).all(axis=1))
    count = len(surface.vertices)
    known = (surface.triangles >= 0) & (surface.triangles < count)
    inside = np.asarray(known.all(axis=1))
    triangles = surface.triangles[inside]
    triangles = triangles[finite[triangles].all(axis=1)]
    if len(triangles) < FEWEST_TRIANGLES:
        raise HeadError(
            tr(
                "The scan '{name}' has {count} triangles, too few for a face; export its "
                "surface, not only its points, at a finer setting.",
                name=name,
                count=len(triangles),
            )
        )
    if len(triangles) > MOST_TRIANGLES:
        raise HeadError(
            tr(
                "The scan '{name}' has {count} triangles, more than the {most_triangles} that "
                "can be read; export it at a coarser setting.",
                name=name,
                count=len(triangles),
                most_triangles=MOST_TRIANGLES,
            )
        )
    thin = _thinned(surface.vertices, triangles, surface.tone)
    if not len(thin.triangles):
        raise HeadError(
            tr(
                "The scan '{name}' has stray points far from its surface; remove them and "
                "export it again.",
                name=name,
            )
        )
    kept = _largest_piece(thin)
    corners = kept.vertices[kept.triangles]
    middle = kept.vertices.mean(axis=0)
    volume = np.einsum(
        "ij,ij->i", corners[:, 0] - middle, np.cross(corners[:, 1] - middle, corners[:, 2] - middle)
    ).sum()
    if volume >= 0:
        return kept
    return Surface(vertices=kept.vertices, triangles=kept.triangles[:, ::-1], tone=kept.tone)


def _thinned(vertices: Floats, triangles: Ints, tone: Floats) -> Surface:
    """Vertices that share a small cell become one, at their mean; flat triangles go."""
    used = np.unique(triangles)
    low, high = vertices[used].min(axis=0), vertices[used].max(axis=0)
    cell = max(float((high - low).max()) / CELLS, 1e-12)
    place = np.clip(np.floor((vertices[used] - low) / cell), 0, CELLS).astype(np.int64)
    number = np.zeros(len(vertices), dtype=np.int64)
    key = (place[:, 0] * (CELLS + 1) + place[:, 1]) * (CELLS + 1) + place[:, 2]
    _, number[used] = np.unique(key, return_inverse=True)
    times = np.bincount(number[used])
    means = [
        np.bincount(number[used], weights=column[used]) / times for column in (*vertices.T, tone)
    ]
    merged = number[triangles]
    flat = (merged == np.roll(merged, 1, axis=1)).any(axis=1)
    merged = merged[~flat]
    _, first = np.unique(np.sort(merged, axis=1), axis=0, return_index=True)
    return Surface(
        vertices=np.stack(means[:3], axis=1),
        triangles=merged[np.sort(first)].astype(np.int32),
        tone=means[3],
    )


def _largest_piece(surface: Surface) -> Surface:
    """The piece with the most area, and others that are more than dust beside it."""
    count = len(surface.vertices)
    ends = surface.triangles[:, [[0, 1], [1, 2]]].reshape(-1, 2)
    links = coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    _, piece_of = connected_components(links, directed=False)
    corners = surface.vertices[surface.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    piece = piece_of[surface.triangles[:, 0]]
    area = np.bincount(piece, weights=np.linalg.norm(across, axis=1))
    chosen = surface.triangles[np.greater(area, SMALL_PIECE * area.max())[piece]]
    used, renumbered = np.unique(chosen, return_inverse=True)
    return Surface(
        vertices=surface.vertices[used],
        triangles=renumbered.reshape(-1, 3).astype(np.int32),
        tone=surface.tone[used],
    )
