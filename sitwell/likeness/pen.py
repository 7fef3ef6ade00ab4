"""A pen: polylines made smooth, and given the width and the tapering ends of a drawn line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

TAPER = 0.25  # of a line's length, at either end
LEAST_WIDTH = 0.2  # of the full width, at the very tip


@dataclass(frozen=True, slots=True)
class Pen:
    """How a kind of line is drawn.

    ``width`` and ``least`` (the shortest piece) count the drawing's own unit of width, ``ease``
    (how strongly waves are taken out) steps of the line.
    """

    width: float
    ease: float = 2.0
    least: float = 6.0
    opacity: float = 1.0


def evened(line: Floats, step: float) -> Floats:
    """A line (N, C), its place in the first two columns, in even steps no longer than ``step``."""
    lengths = np.hypot(*np.diff(line[:, :2], axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    wanted = np.linspace(0.0, along[-1], max(int(np.ceil(along[-1] / step)), 2) + 1)
    return np.stack([np.interp(wanted, along, column) for column in line.T], axis=1)


def smoothed(points: Floats, sigma: float, *, closed: bool = False) -> Floats:
    """The line (N, C) without its small waves, its ends where they were; ``sigma`` in points."""
    if sigma <= 0.0 or len(points) < 4:
        return points
    if closed:
        return np.asarray(gaussian_filter1d(points, sigma, axis=0, mode="wrap"))
    # off the straight way from end to end, turned about either end, so that both stay
    straight = points[0] + np.linspace(0.0, 1.0, len(points))[:, None] * (points[-1] - points[0])
    off = points - straight
    turned = np.concatenate([-off[:0:-1], off, -off[-2::-1]])
    eased = gaussian_filter1d(turned, sigma, axis=0, mode="nearest")
    return np.asarray(straight + eased[len(off) - 1 : 2 * len(off) - 1])


def ribbon(points: Floats, width: Floats) -> Floats:
    """The outline (2N, 2) of a line (N, 2) that is as wide at each point as ``width`` (N,)."""
    along = np.gradient(points, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    across = 0.5 * width[:, None] * np.stack([-along[:, 1], along[:, 0]], axis=1)
    return np.concatenate([points + across, (points - across)[::-1]])


def tapered(count: int) -> Floats:
    """Shares (count,) of the full width of a line that is put down and lifted softly."""
    place = np.linspace(0.0, 1.0, count)
    rise = np.minimum(np.minimum(place, 1.0 - place) / TAPER, 1.0)
    return LEAST_WIDTH + (1.0 - LEAST_WIDTH) * np.sin(0.5 * np.pi * rise)


def runs(flags: Flags, gap: int) -> list[tuple[int, int]]:
    """First and past-last index of each run of true flags; gaps of up to ``gap`` are closed."""
    true = np.flatnonzero(flags)
    if len(true) == 0:
        return []
    cuts = np.flatnonzero(np.diff(true) > gap + 1)
    starts, ends = [true[0], *true[cuts + 1]], [*true[cuts], true[-1]]
    return [(int(first), int(last) + 1) for first, last in zip(starts, ends, strict=True)]
