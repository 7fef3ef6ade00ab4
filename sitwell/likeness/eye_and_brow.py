"""Eyes and brows of a drawing: what is not just a line on the skin."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.likeness.figure import Seen
from sitwell.likeness.wash import outlines

Floats = NDArray[np.float64]

CORNEA_MM = 7.8  # its radius, from memory; the key's mirror image stands on it
CATCHLIGHT_MM = 1.2  # radius, as drawn
FOLD_SHARE = 0.3  # of the way from the lashes to the brow, where the lid folds: a design choice
FOLD_POINTS, DISC_POINTS = 24, 40
BROW_HAIRS, HAIR_POINTS, BROW_SEED = 24, 5, 3
BROW_FROM = 0.14  # of its length from the nose, where hairs begin: closer in they look like a frown
CUT_FINER = 8.0


def disc(centre: Floats, way: Floats, ball_mm: float, radius_mm: float) -> Floats:
    """The rim (N, 3) of a disc that lies on a ball in the direction ``way`` (3,)."""
    across = _unit(np.cross(way, [0.0, 1.0, 0.0]))
    up = np.cross(across, way)
    angle = np.linspace(0.0, math.tau, DISC_POINTS, endpoint=False)[:, None]
    rim = radius_mm * (np.cos(angle) * across + np.sin(angle) * up)
    return np.asarray(centre + math.sqrt(ball_mm**2 - radius_mm**2) * way + rim)


def catchlight(eye: Floats, iris: Floats, key: Floats, lens: Floats) -> Floats:
    """The rim (N, 3) of the key's mirror image, of an eye's middle and its iris's (3,)."""
    gaze = iris - eye
    ball_mm = float(np.linalg.norm(gaze))
    cornea = eye + (ball_mm - CORNEA_MM) * gaze / ball_mm
    between = _unit(_unit(key - cornea) + _unit(lens - cornea))
    return disc(cornea, between, CORNEA_MM, CATCHLIGHT_MM)


def within(seen: Seen, places_mm: Floats, ring: Floats) -> tuple[Floats, ...]:
    """What of a shape with rim (N, 3) in the studio lies within a ring (M, 2) of the picture."""
    spots, _ = seen.spots(places_mm)
    low = ring.min(axis=0) - 1.0
    width, height = np.ceil(CUT_FINER * (ring.max(axis=0) - low + 1.0)).astype(int)
    masks = []
    for rim in (spots, ring):
        mask = np.zeros((height, width), dtype=np.uint8)
        cv2.fillPoly(mask, [np.round(16.0 * CUT_FINER * (rim - low)).astype(np.int32)], 1, shift=4)
        masks.append(mask > 0)
    return tuple(part + low for part in outlines(masks[0] & masks[1], CUT_FINER, 2.0, 8))


def lid_fold(lashes: Floats, upper: Floats) -> Floats:
    """The fold (N, 3) between the edge of a lid and what lies above it, each (M, 3)."""
    if np.linalg.norm(lashes[0] - upper[0]) > np.linalg.norm(lashes[-1] - upper[0]):
        lashes = lashes[::-1]
    share = np.linspace(0.0, 1.0, FOLD_POINTS)
    edge = along(lashes, share)
    return edge + FOLD_SHARE * (along(upper, 0.15 + 0.7 * share) - edge)


def brow_hairs(ring: Floats, outward: Floats) -> Floats:
    """Hairs (S, P, 3) of a brow with rim (N, 3), slanting as they lie: up, then outward.

    ``outward`` (N,) is how far each point of the rim lies from the middle of the face.
    """
    inner, outer = int(outward.argmin()), int(outward.argmax())
    low, high = _part(ring, inner, outer), _part(ring, outer, inner)[::-1]
    if low[:, 1].mean() > high[:, 1].mean():
        low, high = high, low
    share = np.linspace(BROW_FROM, 1.0, BROW_HAIRS + 8)
    low, high = along(low, share), along(high, share)
    rng = np.random.default_rng(BROW_SEED)
    first = np.arange(BROW_HAIRS + 4)
    last = np.minimum(first + 3 + first // 6, len(share) - 1)
    root = low[first] + rng.uniform(-0.05, 0.35, (len(first), 1)) * (high - low)[first]
    tip = low[last] + rng.uniform(0.6, 1.0, (len(first), 1)) * (high - low)[last]
    way = np.linspace(0.0, 1.0, HAIR_POINTS)[:, None]
    return np.asarray(root[:, None] + way * (tip - root)[:, None])


def along(line: Floats, share: Floats) -> Floats:
    """Places (S, C) at shares of a line's (N, C) length."""
    lengths = np.linalg.norm(np.diff(line, axis=0), axis=1)
    passed = np.concatenate([[0.0], np.cumsum(lengths)]) / lengths.sum()
    return np.stack([np.interp(share, passed, column) for column in line.T], axis=1)


def _part(ring: Floats, first: int, last: int) -> Floats:
    """The way along an open ring from one of its points to another."""
    if last >= first:
        return ring[first : last + 1]
    return np.concatenate([ring[first:], ring[: last + 1]])


def _unit(way: Floats) -> Floats:
    return np.asarray(way / np.linalg.norm(way))
