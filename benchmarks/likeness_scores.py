"""How like a predicted picture is to the frame that was left out."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_dilation,
    binary_erosion,
    binary_fill_holes,
    distance_transform_edt,
    label,
)
from skimage.color import deltaE_ciede2000, rgb2lab
from skimage.metrics import structural_similarity

from builders.sitters.cast import KINDS
from sitwell.head.shading import linear_from_srgb

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
_LUMA = np.array([0.2126, 0.7152, 0.0722])  # IEC 61966-2-1
_SOFT_PX = 1.5  # blur before the comparison, so that single hairs need not match
_RIM_PX = 6  # of the background about the head that counts too
_MIDDLE = ("cheekbone_own_left", "cheekbone_own_right", "mouth_corner_own_left",
           "mouth_corner_own_right", "nose_root")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """A frame that was left out: its picture, the share of each pixel by kind, named points."""

    path: Path
    rgb: Pixels
    cover: Array
    points_px: Mapping[str, Array]
    landmarks_px: Array

    @property
    def person(self) -> Mask:
        """Where head, hair and clothes stand before the wall."""
        return np.asarray(self.cover[..., KINDS.index("nothing")] < 0.5)

    @property
    def wall(self) -> Mask:
        """Where the wall shows and nothing else."""
        return np.asarray(self.cover[..., KINDS.index("nothing")] > 0.99)

    @property
    def head(self) -> Mask:
        """Head and hair, down to the chin."""
        cloth = self.cover[..., KINDS.index("cloth")] > 0.5
        return np.asarray(self.person & ~cloth & self.above_chin)

    @property
    def above_chin(self) -> Mask:
        """Rows above the chin."""
        rows = np.arange(len(self.rgb))[:, None]
        return np.broadcast_to(rows < self.points_px["chin"][1], self.rgb.shape[:2])

    @property
    def face_px(self) -> float:
        """Height of the face, hairline to chin."""
        return float(np.linalg.norm(self.points_px["hairline"] - self.points_px["chin"]))

    @property
    def middle(self) -> Mask:
        """Skin of the middle of the face."""
        spots = np.array([self.points_px[name] for name in _MIDDLE], dtype=np.float32)
        mask = np.zeros(self.rgb.shape[:2], dtype=np.uint8)
        cv2.fillConvexPoly(mask, np.round(cv2.convexHull(spots)).astype(np.int32), 1)
        return np.asarray((mask > 0) & (self.cover[..., KINDS.index("skin")] > 0.98))


@dataclass(frozen=True, slots=True, kw_only=True)
class Predicted:
    """A picture laid on the frame, where it shows the person, and where it shows anything."""

    rgb: Pixels
    person: Mask
    shown: Mask
    points_off_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """Lengths in % of the face's height; ``stops`` brighter than the frame; ``holes`` in %.

    ``similarity`` is structural, over head and hair with a rim about them; ``inside`` leaves out
    all that lies so near their outline that the background takes part.
    """

    similarity: float
    inside: float
    outline: float
    outline_95: float
    points: float
    stops: float
    colour: float
    holes: float


def laid_on(rgb: Pixels, person: Mask, landmarks_px: Array, truth: Truth) -> Predicted:
    """A picture moved and scaled, not turned, so that its face lies best on the frame's."""
    here, there = landmarks_px.mean(axis=0), truth.landmarks_px.mean(axis=0)
    off, wanted = landmarks_px - here, truth.landmarks_px - there
    scale = float((off * wanted).sum() / (off**2).sum())
    shift = there - scale * here
    matrix = np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]])
    missed = np.linalg.norm(scale * off - wanted, axis=1).mean()
    return warped(rgb, person, matrix, truth, float(missed))


def warped(rgb: Pixels, person: Mask, matrix: Array, truth: Truth, missed_px: float) -> Predicted:
    """A picture carried over by an affine ``matrix`` (2, 3)."""
    size = (truth.rgb.shape[1], truth.rgb.shape[0])
    laid = cv2.warpAffine(rgb, matrix, size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
    mask = cv2.warpAffine(person.astype(np.float32), matrix, size, borderMode=cv2.BORDER_REPLICATE)
    shown = cv2.warpAffine(np.ones(rgb.shape[:2], np.float32), matrix, size)
    return Predicted(
        rgb=laid.astype(np.uint8), person=mask > 0.5, shown=shown > 0.99, points_off_px=missed_px
    )  # fmt: skip


def score(predicted: Predicted, truth: Truth) -> Scores:
    """All of it."""
    percent = 100.0 / truth.face_px
    outline = outline_errors_px(predicted.person, truth.person, predicted.shown & truth.above_chin)
    middle = truth.middle & predicted.shown
    bright = [_luminance(rgb)[middle].mean() for rgb in (predicted.rgb, truth.rgb)]
    labs = [rgb2lab(rgb)[middle].mean(axis=0) for rgb in (predicted.rgb, truth.rgb)]
    over, inside = similarities(predicted, truth)
    filled = binary_fill_holes(predicted.person) & ~predicted.person & truth.head
    return Scores(
        similarity=over,
        inside=inside,
        outline=percent * float(outline.mean()),
        outline_95=percent * float(np.percentile(outline, 95)),
        points=percent * predicted.points_off_px,
        stops=float(np.log2(bright[0] / bright[1])),
        colour=float(deltaE_ciede2000(*labs)),  # type: ignore[no-untyped-call]
        holes=100.0 * float(filled.sum() / truth.head.sum()),
    )


def similarities(predicted: Predicted, truth: Truth) -> tuple[float, float]:
    """Mean structural similarity over head and hair with a rim, and inside of them alone."""
    greys = [
        cv2.GaussianBlur((rgb.astype(np.float64) @ _LUMA), (0, 0), _SOFT_PX)
        for rgb in (predicted.rgb, truth.rgb)
    ]
    _, each = structural_similarity(  # type: ignore[no-untyped-call]
        *greys, data_range=255.0, gaussian_weights=True, sigma=1.5, use_sample_covariance=False,
        full=True,
    )  # fmt: skip
    counts = predicted.shown & truth.above_chin
    around = binary_dilation(truth.head, iterations=_RIM_PX) & counts
    inside = binary_erosion(truth.head, iterations=_RIM_PX) & counts
    return float(each[around].mean()), float(each[inside].mean())


def outline_errors_px(one: Mask, other: Mask, counts: Mask) -> Array:
    """How far each outline's points lie from the other outline, both ways, where it ``counts``."""
    edges = [_outline(mask) for mask in (one, other)]
    inside = counts & _off_border(counts.shape)
    errors = [distance_transform_edt(~edges[1 - which])[edges[which] & inside] for which in (0, 1)]
    return np.concatenate(errors)


def _outline(person: Mask) -> Mask:
    """Pixels of the largest part's outer edge."""
    parts, count = label(person)
    if count > 1:
        sizes = np.bincount(parts.ravel())[1:]
        person = parts == 1 + int(sizes.argmax())
    filled = binary_fill_holes(person)
    return np.asarray(filled & binary_dilation(~filled))


def _off_border(shape: tuple[int, ...]) -> Mask:
    mask = np.zeros(shape, dtype=bool)
    mask[4:-4, 4:-4] = True
    return mask


def stops_between(one: Pixels, other: Pixels) -> float:
    """How many stops brighter other pixels (M, 3) are than some (N, 3), by their medians."""
    first, second = (float(np.median(_luminance(rgb))) for rgb in (one, other))
    return float(np.log2(second / first))


def _luminance(rgb: Pixels) -> Array:
    return np.asarray(linear_from_srgb(rgb) @ _LUMA)


def person_by_ground(first: Pixels, second: Pixels) -> Mask:
    """Where two pictures that differ in their background alone show the person."""
    change = np.abs(first.astype(np.float64) - second).sum(axis=2)
    return np.asarray(change < 0.5 * np.percentile(change, 90))
