"""A piece of the sitter's own hair, laid on hair that no frame saw so that it reads as hair."""

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.likeness.body import Body
from sitwell.likeness.plate import COARSE, PX_PER_MM, Classes, Plate

Floats = NDArray[np.float64]

SURELY_HAIR, SURELY_OWN = 0.75, 250
LEAST_MM, MOST_MM = 7.0, 22.0  # half the piece's side
AROUND_MM = 95.0  # of the skull: what a turn about its height is long


def hair_piece(plate: Plate, classes: Classes) -> tuple[Floats, float] | None:
    """The middle (2,) and half the side of the largest square of plain hair, in plate pixels.

    None where a frame shows too little of it.
    """
    height, width = classes.hair.shape
    own = cv2.resize(plate.alpha[: height * COARSE], (width, height), interpolation=cv2.INTER_AREA)
    sure = ((classes.hair > SURELY_HAIR) & (np.asarray(own) >= SURELY_OWN)).astype(np.uint8)
    padded = np.pad(sure, 1)
    room = np.asarray(cv2.distanceTransform(padded, cv2.DIST_C, 3))[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(room)), room.shape)
    half = min((float(room[row, column]) - 1.0) * COARSE, MOST_MM * PX_PER_MM)
    if half < LEAST_MM * PX_PER_MM:
        return None
    return (np.array([column, row]) + 0.5) * COARSE, half


def on_piece(body: Body, level_mm: Floats, piece: tuple[Floats, float]) -> Floats:
    """Where on the piece each vertex (N, 3) of the level head lies (N, 2), folded to and fro."""
    middle, half = piece
    axis = level_mm[body.scalp > 0.5].mean(axis=0)
    off = level_mm - axis
    turn = np.arctan2(off[:, 0], off[:, 2])
    along = np.stack([turn * AROUND_MM, off[:, 1]], axis=1) * PX_PER_MM
    return middle + half * (np.abs((along / half) % 4.0 - 2.0) - 1.0)
