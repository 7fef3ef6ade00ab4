"""A head with plain hair and a covered body, posed before a camera, and what of it is in view."""

from collections.abc import Collection
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.head.facing import vertex_normals
from sitwell.head.regions import Region
from sitwell.head.surface import Head
from sitwell.likeness.plain_hair import grow
from sitwell.scene.anatomy import Anatomy
from sitwell.scene.bust import AROUND, build_bust
from sitwell.scene.raster import rasterise
from sitwell.scene.refine import refine
from sitwell.scene.view import View

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]
Window = tuple[float, float, float]

HAIR, CLOTH = len(Region), len(Region) + 1  # patches beside those of the head
PATCHES = CLOTH + 1
SLACK = 0.0022  # of the depth: what lies so little behind the nearest is still in view
RASTER_PX = 1000.0  # height, about, at which what hides what is found
BESIDE = np.ones((5, 5), np.uint8)  # raster pixels about one that count for it
FINER = (1.0, 2.5)  # least and most raster pixels along one of the picture's


class Figure:
    """The meshes of a figure as one: the skull's finer surface, hair over it, the body below.

    ``patch`` (T,) is each triangle's: a Region, HAIR or CLOTH; ``collar`` the body's top edge.
    """

    def __init__(self, head: Head, anatomy: Anatomy) -> None:
        self._anatomy = anatomy
        normals = vertex_normals(anatomy.vertices_mm, anatomy.triangles)
        self._fine = refine(anatomy.vertices_mm, anatomy.triangles, normals)
        region = np.repeat(anatomy.region, 4)
        skull, triangles = self._fine.places(anatomy.vertices_mm, np.eye(3)), self._fine.triangles
        self._hair = grow(head, skull, triangles, region, self._fine.spread(normals))
        self._strand_off = self._hair.strands_mm - skull[self._hair.strand_at]
        self._scalp = triangles[region == Region.SCALP]
        self._bust, bust = build_bust(head)
        self._bust_normals = vertex_normals(self._bust, bust)
        count = len(skull)
        meshes = [triangles, self._scalp + count, bust + 2 * count]
        self.triangles = np.concatenate(meshes).astype(np.int32)
        kinds = [region, np.full(len(self._scalp), HAIR), np.full(len(bust), CLOTH)]
        self.patch = np.concatenate(kinds).astype(np.uint8)
        self.collar = 2 * count + np.append(np.arange(AROUND), 0)
        self._drawn = self.triangles_but({Region.SOCKET})

    def triangles_but(self, hidden: Collection[int]) -> Ints:
        """Numbers of the triangles outside some patches."""
        return np.flatnonzero(~np.isin(self.patch, list(hidden))).astype(np.int32)

    def triangles_of(self, patches: Collection[int]) -> Ints:
        """Numbers of the triangles of some patches."""
        return np.flatnonzero(np.isin(self.patch, list(patches))).astype(np.int32)

    def seen(self, view: View, window: Window, size_px: tuple[int, int]) -> "Seen":
        """The figure as a view has it in a picture of ``size_px`` (width, height).

        ``window`` is the picture's left and top edge in tangents, and its pixels for one.
        """
        places, normals = self._posed(view)
        left, top, scale = window
        finer = float(np.clip(RASTER_PX / size_px[1], *FINER))
        width, height = (round(side * finer) for side in size_px)
        shown, nearest = np.empty((height, width), np.int32), np.empty((height, width))
        x, y, depth = view.camera.project(places).T
        x_px, y_px = (x - left) * scale * finer, (top - y) * scale * finer
        unused = np.empty(len(self.triangles), np.int32)
        rasterise(x_px, y_px, 1 / depth, self.triangles, self._drawn, shown, nearest, unused)
        return Seen(
            view=view,
            window=window,
            size_px=size_px,
            finer=finer,
            places_mm=places,
            normals=normals,
            strands_mm=places[self._hair.strand_at] + self._strand_off @ view.rotation.T,
            patch=np.where(shown >= 0, self.patch[shown].astype(np.int16), -1),
            farthest=np.asarray(cv2.erode(nearest.astype(np.float32), BESIDE), np.float32),
        )

    def _posed(self, view: View) -> tuple[Floats, Floats]:
        """Places and unit normals (N, 3) in the studio."""
        skull = self._fine.places(view.posed_mm, view.rotation)
        hair = skull + self._hair.lift_mm @ view.rotation.T
        normals = self._fine.spread(vertex_normals(view.posed_mm, self._anatomy.triangles))
        hair_normals = vertex_normals(hair, self._scalp)
        return (
            np.concatenate([skull, hair, self._bust]),
            np.concatenate([normals, hair_normals, self._bust_normals]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A figure in a picture: places and normals (N, 3), and on a finer raster what shows where.

    ``finer`` raster pixels lie along one of the picture's; ``patch`` is what each shows, -1 for the
    background; ``farthest`` is the least nearness (1/depth) within two pixels of it.
    """

    view: View
    window: Window
    size_px: tuple[int, int]
    finer: float
    places_mm: Floats
    normals: Floats
    strands_mm: Floats
    patch: NDArray[np.int16]
    farthest: NDArray[np.float32]

    @property
    def px_per_mm(self) -> float:
        """The picture's scale at the eyes."""
        return self.window[2] * self.view.frame.unit_per_mm * self.view.frame.face_height

    def facing(self) -> Floats:
        """Cosine (N,) between each normal and the way to the lens."""
        way = self.view.camera.lens_mm - self.places_mm
        return np.asarray((way * self.normals).sum(axis=1) / np.linalg.norm(way, axis=1))

    def spots(self, places_mm: Floats) -> tuple[Floats, Floats]:
        """Picture pixels (..., 2) and nearness (...) of studio places (..., 3)."""
        x, y, depth = np.moveaxis(self.view.camera.project(places_mm), -1, 0)
        left, top, scale = self.window
        return np.stack([(x - left) * scale, (top - y) * scale], axis=-1), 1.0 / depth

    def in_view(self, spots: Floats, nearness: Floats, slack: float) -> Flags:
        """Whether each spot (..., 2) is in the picture with nothing before it.

        A raster pixel or two off is allowed, and ``slack`` times a usual depth.
        """
        height, width = self.farthest.shape
        x, y = np.moveaxis((spots * self.finer).astype(np.int32), -1, 0)
        inside = (x >= -9) & (y >= -9) & (x < width + 9) & (y < height + 9)
        over = self.farthest[y.clip(0, height - 1), x.clip(0, width - 1)]
        return np.asarray(inside & (nearness >= over * (1.0 - slack * SLACK)))

    def on(self, *patches: int) -> Flags:
        """Where the raster shows one of these patches."""
        table = np.zeros(PATCHES + 1, dtype=np.bool_)  # the last is the background's
        table[list(patches)] = True
        return table[self.patch]
