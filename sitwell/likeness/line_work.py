"""Pen and brush at work on one figure in a picture: strokes with hidden parts left out, washes."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from sitwell.likeness.figure import Seen
from sitwell.likeness.pen import Pen, evened, ribbon, runs, smoothed, tapered
from sitwell.likeness.vector_drawing import Shape, Tone
from sitwell.likeness.wash import outlines

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

INK: Tone = (29, 39, 51)
PAPER: Tone = (255, 255, 255)
# A full line's width: of the picture's height, but no more than this on the sitter.
UNIT_SHARE, UNIT_MM = 0.003, 1.7
STEP_PX = 1.5
GAP_STEPS, OVERLAP_STEPS = 3, 5
BESIDE = 3.5  # widths of a line within which a second one would only double it


class LineWork:
    """Makes the shapes of one drawing; it remembers where lines lie."""

    def __init__(self, seen: Seen) -> None:
        self.seen = seen
        self.unit = min(UNIT_SHARE * seen.size_px[1], UNIT_MM * seen.px_per_mm)
        self._drawn: NDArray[np.uint8] = np.zeros(seen.patch.shape, dtype=np.uint8)

    def stroke(
        self,
        places_mm: Floats,
        pen: Pen,
        *,
        weight: Floats | None = None,
        alone: bool = False,
        slack: float = 1.0,
    ) -> Iterator[Shape]:
        """A line through studio places (N, 3) where it is in view, times ``weight`` (N,) as wide.

        ``alone`` leaves out what would double a line that is there; ``slack``: see ``in_view``.
        """
        spots, nearness = self.seen.spots(places_mm)
        wide = np.ones(len(spots)) if weight is None else weight
        line = evened(np.column_stack([spots, nearness, wide]), STEP_PX)
        flags = self.seen.in_view(line[:, :2], line[:, 2], slack)
        if alone:  # but up to the line that is there, so that no gap is left
            free = flags & ~self._is_drawn(line[:, :2])
            flags &= binary_dilation(free, iterations=OVERLAP_STEPS)
        line[:, :2] = smoothed(line[:, :2], pen.ease)
        step = np.hypot(*np.diff(line[:, :2], axis=0).T)
        for first, last in runs(flags, GAP_STEPS):
            if step[first : last - 1].sum() < pen.least * self.unit:
                continue
            piece = line[first:last]
            self._note(piece[:, :2])
            width = pen.width * self.unit * tapered(len(piece)) * piece[:, 3]
            yield Shape((ribbon(piece[:, :2], width),), INK, pen.opacity)

    def hairs(self, places_mm: Floats, pen: Pen, *, slack: float = 1.0) -> Iterator[Shape]:
        """Short lines (S, P, 3) in the studio, those that are wholly in view."""
        spots, nearness = self.seen.spots(places_mm)
        whole = self.seen.in_view(spots, nearness, slack).all(axis=1)
        width = pen.width * self.unit * tapered(places_mm.shape[1])
        for line in spots[whole]:
            yield Shape((ribbon(line, width),), INK, pen.opacity)

    def fill(
        self, mask: Flags, opacity: float, *, ease: float, least: int = 12, tone: Tone = INK
    ) -> Iterator[Shape]:
        """A tone over a mask of the raster; see ``outlines``."""
        rings = outlines(mask, self.seen.finer, ease, least)
        if rings:
            yield Shape(rings, tone, opacity)

    def _note(self, points: Floats) -> None:
        corners = np.round(points * self.seen.finer).astype(np.int32)
        width = max(round(BESIDE * self.unit * self.seen.finer), 3)
        cv2.polylines(self._drawn, [corners], isClosed=False, color=1, thickness=width)

    def _is_drawn(self, points: Floats) -> Flags:
        height, width = self._drawn.shape
        place = (points * self.seen.finer).astype(np.int32)
        x, y = place[:, 0].clip(0, width - 1), place[:, 1].clip(0, height - 1)
        return np.asarray(self._drawn[y, x] > 0)
