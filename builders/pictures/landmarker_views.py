"""Pictures of invented heads and what the landmarker saw in each, for learning and checking."""

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.pictures.pulls import pulled_face
from builders.pictures.ray_traced import Light, Look, pose_at, render
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import Focal, find_focal
from sitwell.brief.photos import Photo
from sitwell.face.landmarks import FaceReading, find_faces
from sitwell.face.lids import LidEdges, find_lids
from sitwell.head.basis import USED_LANDMARKS, landmark_basis
from sitwell.head.pose import HeadPose, Sighting, project, upright_axes
from sitwell.head.prior import drawn_sigma
from sitwell.head.seen_lids import lid_marks
from sitwell.head.seen_parts import Found
from sitwell.head.surface import head_from_values
from sitwell.head.template import load_template

SIZE_PX = 512
_FACE_SHARE = 250 / 512  # of the picture that 160 mm cover

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One picture of an invented head, what it was and what the landmarker saw."""

    head: int
    pose: HeadPose
    focal: Focal
    shape: Array
    expression: Array
    face: FaceReading
    size_px: int = SIZE_PX
    lids: Mapping[str, LidEdges] = field(default_factory=dict)
    found: Found = field(default_factory=Found)

    @property
    def sighting(self) -> Sighting:
        """What the fit is given, but for the lids."""
        centre = np.array([self.size_px / 2, self.size_px / 2])
        return Sighting(
            landmarks_px=self.face.landmarks_px,
            centre_px=centre,
            focal=self.focal,
            blendshapes=self.face.blendshapes,
        )

    @property
    def with_lids(self) -> Sighting:
        """What the fit is given, the lid edges that were measured in the picture among it."""
        return dataclasses.replace(self.sighting, marks=lid_marks(self.lids, self.sighting))

    def error_mm(self) -> Array:
        """Landmarks less their true places (N, 2), in mm in upright picture axes."""
        seen_px = self.face.landmarks_px[USED_LANDMARKS]
        return self._upright_mm(seen_px - self._projected_px(self.shape))

    def departure_mm(self) -> Array:
        """True places less those on the mean head (N, 2), in mm in upright picture axes."""
        mean_px = self._projected_px(np.zeros_like(self.shape))
        return self._upright_mm(self._projected_px(self.shape) - mean_px)

    def pose_slope_mm(self) -> Array:
        """What one degree about each axis and 10 mm nearer do to the landmarks (4, 2N), in mm."""
        here = self._upright_mm(self._projected_px(self.shape))
        turns = np.vstack([np.eye(3) * np.radians(1.0), np.zeros(3)])
        steps = np.hstack([turns, np.diag([0.0, 0.0, 0.0, 10.0])[:, 1:]])
        moved = [dataclasses.replace(self, pose=self.pose.moved(step)) for step in steps]
        there = [self._upright_mm(view._projected_px(self.shape)) for view in moved]
        return np.stack([(each - here).reshape(-1) for each in there])

    def _projected_px(self, shape: Array) -> Array:
        points = landmark_basis().at(shape, self.expression)
        return project(points, self.pose, self.focal.px, self.sighting.centre_px)

    def _upright_mm(self, offset_px: Array) -> Array:
        mm_per_px = -self.pose.place_mm[2] / self.focal.px
        return np.asarray(offset_px @ upright_axes(self.pose.seen_deg[2]).T * mm_per_px)


def make_views(heads: int, views: int, seed: int, size_px: int = SIZE_PX) -> list[View]:
    """Pictures of ``heads`` invented heads, ``views`` each; those without a face are left out."""
    return [view for view, _ in make_pictures(heads, views, seed, size_px)]


def make_pictures(
    heads: int, views: int, seed: int, size_px: int = SIZE_PX
) -> Iterator[tuple[View, NDArray[np.uint8]]]:
    """The same, one at a time, each with the picture itself."""
    rng = np.random.default_rng(seed)
    for index in range(heads):
        shape = rng.normal(size=len(drawn_sigma())) * drawn_sigma()
        look = _look(rng)
        for _ in range(views):
            made = _view(rng, index, shape.astype(np.float64), look, size_px)
            if made is not None:
                yield made


def _view(
    rng: np.random.Generator, index: int, shape: Array, look: Look, size_px: int
) -> tuple[View, NDArray[np.uint8]] | None:
    template = load_template()
    expression = pulled_face(rng, template.expression_names)
    pose = pose_at(
        rng.uniform(-45, 45), rng.uniform(-20, 20), rng.uniform(-15, 15), rng.uniform(900, 3000)
    )
    focal = focal_of(_FACE_SHARE * size_px / 160.0 * pose.distance_mm, size_px)
    head = head_from_values(template, shape.astype(np.float32), expression.astype(np.float32))
    key = Light(
        azimuth_deg=rng.uniform(-70, 70),
        elevation_deg=rng.uniform(0, 55),
        strength=rng.uniform(0.5, 1.2),
    )
    rgb = render(
        head, pose, focal_px=focal.px, size_px=(size_px, size_px), lights=[key],
        ambient=rng.uniform(0.15, 0.5), look=look, seed=int(rng.integers(1 << 30)),
    )  # fmt: skip
    faces = find_faces(photo_of(rgb, focal))
    if not faces:
        return None
    view = View(
        head=index,
        pose=pose,
        focal=focal,
        shape=shape,
        expression=expression,
        face=faces[0],
        size_px=size_px,
        lids=find_lids(rgb, faces[0].landmarks_px),
    )
    return view, rgb


def photo_of(rgb: NDArray[np.uint8], focal: Focal) -> Photo:
    """A picture as if it had been opened from a file."""
    return Photo(
        path=Path("invented.png"), rgb=rgb, width_px=rgb.shape[1], height_px=rgb.shape[0],
        facts=ExifFacts(), focal=focal,
    )  # fmt: skip


def focal_of(px: float, size_px: int = SIZE_PX) -> Focal:
    """A lens of that many pixels, focused at infinity as far as the pinhole render goes."""
    diagonal_px = size_px * np.sqrt(2.0)
    equivalent = px / diagonal_px * np.hypot(36.0, 24.0)
    return find_focal(ExifFacts(), size_px, size_px, focal_35_mm=float(equivalent))


def _look(rng: np.random.Generator) -> Look:
    tone = np.exp(rng.uniform(np.log(0.05), np.log(0.5)))
    skin = tone * np.array([1.0, rng.uniform(0.6, 0.8), rng.uniform(0.42, 0.62)])
    return Look(
        skin=skin,
        lips=skin * np.array([0.85, rng.uniform(0.4, 0.7), rng.uniform(0.45, 0.75)]),
        hair=np.full(3, rng.uniform(0.01, 0.25)) * np.array([1.0, 0.8, 0.6]),
        iris=rng.uniform(0.03, 0.2, size=3),
    )
