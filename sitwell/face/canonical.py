"""The landmark model's own pose guess: its canonical face laid on the landmarks.

The canonical face (centimetres, x to camera right, y up, z toward the camera) and the weights of
its points lie in the bundle, as google-ai-edge/mediapipe's geometry_pipeline_metadata.proto and
environment.proto describe (read 2026-11). The fit is the weighted orthogonal Procrustes problem
(D. Akca, "Generalized Procrustes analysis and its applications in photogrammetry", 2003), in a
perspective of 63 degrees up and down. Tests hold the matrix against that library.
"""

import struct
from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.face.bundle import CANONICAL, member

Array = NDArray[np.float64]

_UP_AND_DOWN_DEG = 63.0
_MESH, _WEIGHT = 1, 2  # fields of the metadata
_VERTICES = 3  # field of the mesh: x, y, z and a texture's two
_VARINT, _BYTES, _FLOAT = 0, 2, 5  # kinds of fields


def pose_matrix(landmarks_px: Array, depth_px: Array, width_px: int, height_px: int) -> Array:
    """The matrix (4, 4) that brings the canonical face onto landmarks (478, 2) and their depth.

    It turns, scales and moves; in centimetres if the face is as large as the canonical one.
    """
    face, weights = _canonical()
    high = 2 * np.tan(np.radians(_UP_AND_DOWN_DEG) / 2)  # of the picture, at distance 1
    scale = high / height_px
    count = len(face)
    flat = (landmarks_px[:count] - (width_px / 2, height_px / 2)) * scale * (1.0, -1.0)
    depth = depth_px[:count] * scale
    deep = depth - depth.mean()
    # How large the face is at distance 1: first as if seen from far away, then in perspective.
    size = _size(_fit(face, np.column_stack([flat, -depth]), weights))
    size *= _size(_fit(face, _unprojected(flat, deep, size), weights))
    return _fit(face, _unprojected(flat, deep, size), weights)


def _unprojected(flat: Array, deep: Array, size: float) -> Array:
    """Points (N, 3) in space of places at distance 1 for a face that is ``size`` there."""
    away = (1.0 + deep[:, None]) / size
    return np.hstack([flat * away, -away])


def _size(matrix: Array) -> float:
    return float(np.linalg.norm(matrix[:3, 0]))


def _fit(face: Array, points: Array, weights: Array) -> Array:
    """The turn, scale and move (4, 4) that brings ``face`` (N, 3) nearest to ``points`` (N, 3)."""
    share = weights[:, None] / weights.sum()
    middle, there = (share * face).sum(axis=0), (share * points).sum(axis=0)
    off, off_there = face - middle, points - there
    left, spread, right = np.linalg.svd(off_there.T @ (share * off))
    hand = np.array([1.0, 1.0, np.sign(np.linalg.det(left @ right))])  # no mirror
    turn = (left * hand) @ right
    matrix = np.eye(4)
    matrix[:3, :3] = turn * float((spread * hand).sum() / (share * off**2).sum())
    matrix[:3, 3] = there - matrix[:3, :3] @ middle
    return matrix


@cache
def _canonical() -> tuple[Array, Array]:
    """The canonical face (468, 3) and the weights of its points (468,)."""
    fields = list(_fields(member(CANONICAL)))
    mesh = next(value for number, value in fields if number == _MESH)
    values = [value for number, value in _fields(mesh) if number == _VERTICES]
    face = np.array(values, dtype=np.float64).reshape(-1, 5)[:, :3]
    weights = np.zeros(len(face))
    for row in (dict(_fields(value)) for number, value in fields if number == _WEIGHT):
        weights[row[1]] = row[2]
    return face, weights


def _fields(data: bytes) -> Iterator[tuple[int, Any]]:
    """Number and value of each field of a message in the wire format of protocol buffers."""
    at = 0
    while at < len(data):
        key, at = _varint(data, at)
        number, kind = key >> 3, key & 7
        if kind == _VARINT:
            value, at = _varint(data, at)
            yield number, value
        elif kind == _FLOAT:
            yield number, struct.unpack_from("<f", data, at)[0]
            at += 4
        elif kind == _BYTES:
            length, at = _varint(data, at)
            yield number, data[at : at + length]
            at += length
        else:
            raise ValueError(kind)


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        value |= (data[at] & 127) << shift
        shift, at = shift + 7, at + 1
        if data[at - 1] < 128:
            return value, at
