"""Catchlights: the photograph's own are taken out of the irises, and the planned key's put in.

Only where the eyes are bare and the planned light is laid on; else the eyes stay as photographed.
"""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from sitwell.head.shading import LUMINANCE, linear_from_srgb
from sitwell.likeness.plate import Plate
from sitwell.scene.camera import Camera
from sitwell.scene.preview_shade import Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Pixels = NDArray[np.uint8]
Flags = NDArray[np.bool_]

IRIS_MM = 5.6
BRIGHTER, LEAST = 2.2, 0.06  # than the iris's middle light, and in itself: a mirrored light
MOST_SHARE = 0.3  # of the iris: more is no mirrored light
CORNEA_MM, AHEAD_MM = 7.8, 5.0  # as in ``preview_eye``
SPOT_MM, STRENGTH = 1.0, 0.85
SOFT_PX = 0.6
LEAST_OPEN_PX = 12


def without_catchlights(plate: Plate, eyes_at: tuple[Floats, ...], px_per_mm: float) -> Pixels:
    """The plate's colours with mirrored lights taken out of the irises.

    ``eyes_at`` holds, for each eye, the iris's middle and then the lids' edges (1 + L, 2).
    """
    rgb = plate.rgb
    for eye in eyes_at:
        reach = IRIS_MM * px_per_mm
        low = np.floor(eye[0] - reach - 3.0).astype(int)
        high = np.ceil(eye[0] + reach + 3.0).astype(int)
        if (low < 0).any() or (high > (rgb.shape[1], rgb.shape[0])).any():
            continue
        piece = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
        mirrored = _mirrored(piece, eye - low, reach)
        if mirrored is not None:
            mended = cv2.inpaint(piece, mirrored, 2.0, cv2.INPAINT_TELEA)
            rgb = rgb.copy() if rgb is plate.rgb else rgb
            rgb[low[1] : high[1], low[0] : high[0]] = mended
    return rgb


def _mirrored(piece: Pixels, eye: Floats, reach: float) -> Pixels | None:
    """Where (H, W) an iris mirrors a light, 255 or 0; None where nothing or too much is so."""
    height, width, _ = piece.shape
    open_eye = np.zeros((height, width), dtype=np.uint8)
    cv2.fillPoly(open_eye, [np.round(eye[1:] - 0.5).astype(np.int32)], 1)
    open_eye = np.asarray(cv2.erode(open_eye, np.ones((3, 3), np.uint8)))
    rows, columns = np.mgrid[0:height, 0:width] + 0.5
    iris = (np.hypot(columns - eye[0, 0], rows - eye[0, 1]) < reach) & (open_eye > 0)
    if iris.sum() < LEAST_OPEN_PX:
        return None
    light = linear_from_srgb(piece) @ LUMINANCE
    bright = iris & (light > max(BRIGHTER * float(np.median(light[iris])), LEAST))
    if not 0 < bright.sum() < MOST_SHARE * iris.sum():
        return None
    grown = np.asarray(cv2.dilate(bright.astype(np.uint8), np.ones((3, 3), np.uint8)))
    return np.asarray(255 * ((grown > 0) & (open_eye > 0)), dtype=np.uint8)


def put_in(
    picture: Pixels,
    scene: Scene,
    camera: Camera,
    window: tuple[float, float, float],
    shown: Ints,
    of_eye: Flags,
) -> None:
    """Add the key's mirror image to each eye of a picture (H, W, 3), in place.

    ``shown`` (H, W) is each pixel's triangle, -1 for none, ``of_eye`` (T + 1,) which are an eye's,
    the last one False.
    """
    left, top, scale = window
    for ball in scene.balls:
        centre, gaze = ball[:3], ball[3:6]
        to_key, to_lens = scene.lamps[0, 12:15] - centre, scene.lens - centre
        half = to_key / np.linalg.norm(to_key) + to_lens / np.linalg.norm(to_lens)
        place = centre + AHEAD_MM * gaze + CORNEA_MM * half / np.linalg.norm(half)
        x, y, depth = camera.project(place)
        column, row = (float(x) - left) * scale, (top - float(y)) * scale
        radius = SPOT_MM * scale / float(depth)
        reach = math.ceil(radius + 2.0)
        rows = slice(max(int(row) - reach, 0), max(int(row) + reach + 1, 0))
        columns = slice(max(int(column) - reach, 0), max(int(column) + reach + 1, 0))
        piece = picture[rows, columns]
        down, across = np.mgrid[0 : piece.shape[0], 0 : piece.shape[1]] + 0.5
        off = np.hypot(across + columns.start - column, down + rows.start - row)
        share = np.clip((radius - off) / SOFT_PX / 2.0 + 0.5, 0.0, 1.0) * STRENGTH
        share *= of_eye[shown[rows, columns]]
        piece[:] = np.round(piece + share[..., None] * (255.0 - piece)).astype(np.uint8)
