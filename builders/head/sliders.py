"""Cuts the sliders and expression units out of the source for the finished head."""

from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from builders.head.eyes import closing_blink
from builders.head.form import Build
from builders.head.mesh import MM_PER_DM, mirrored
from builders.head.modes import NO_EXPRESSION, Mode
from builders.head.source import Floats, Ints
from sitwell.head.regions import FACE
from sitwell.head.template import STEP_MM

# The source moves ears apart only with the whole face. People's heads are also broader or narrower
# at the ears alone: on scans of people the ears' roots stand 6 mm nearer the cheekbones' line than
# on the mean head. One unit, its spread, and where it fades to the face, the neck and the crown.
EARS_APART = "ear_apart"
_APART_MM, _APART_SIGMA = 12.5, 0.1
_APART_Z_MM, _APART_NECK_MM, _APART_CROWN_MM, _APART_X_MM = (-40, -78), (-115, -75), (70, 20), 60


def sliders(head: Build, modes: list[Mode]) -> dict[str, Any]:
    """Names, spreads and packed displacements of the shape sliders."""
    odd = np.stack([*(displacement(head, mode.odd_dm) for mode in modes), _ears_apart(head)])
    bent = [k for k, mode in enumerate(modes) if mode.even_dm is not None]
    even = np.stack([displacement(head, modes[k].even_dm) for k in bent])
    return {
        "shape_names": np.array([*(mode.name for mode in modes), EARS_APART]),
        "shape_sigma": np.array([*(mode.sigma for mode in modes), _APART_SIGMA], dtype=np.float32),
        "even_index": np.array(bent, dtype=np.int32),
        **_packed("shape", odd),
        **_packed("even", even),
    }


def _ears_apart(head: Build) -> Floats:
    """Both sides of the skull about the ears moved apart, the face between them still."""
    x, y, z = head.vertices_mm.T
    share = _ramp(z, *_APART_Z_MM) * _ramp(y, *_APART_NECK_MM) * _ramp(y, *_APART_CROWN_MM)
    out = np.sign(x) * share * _ramp(np.abs(x), 0, _APART_X_MM)
    return _APART_MM * out[:, None] * [1.0, 0.0, 0.0]


def _ramp(values: Floats, start: float, end: float) -> Floats:
    """From 0 at ``start`` to 1 at ``end``, smoothly."""
    share = np.clip((values - start) / (end - start), 0.0, 1.0)
    return share**2 * (3.0 - 2.0 * share)


def expressions(head: Build) -> dict[str, Any]:
    """Names and packed displacements of the expression units."""
    units = [name for name in head.source.expression_names() if name not in NO_EXPRESSION]
    moves = np.stack([_expression(head, head.source.expression(name)) for name in units])
    left, right = units.index("eyeBlinkLeft"), units.index("eyeBlinkRight")
    moves[left] = closing_blink(head.vertices_mm, moves[left], head.seat)
    moves[right] = mirrored(moves[left][_mirror(head)])
    return {
        "expression_names": np.array([_our_name(name) for name in units]),
        **_packed("expression", moves),
    }


def _mirror(head: Build) -> Ints:
    """Each vertex's image on the other side, skin and eyeballs."""
    index, image = cKDTree(head.vertices_mm), mirrored(head.vertices_mm)
    apart, nearest = index.query(image)
    ball = head.ball
    if apart.max() > 1e-6:
        raise SystemExit(f"The head is not symmetrical: {apart.max():.2g} mm.")
    own_left = np.arange(ball) + head.skin
    return np.concatenate([nearest[: head.skin], own_left + ball, own_left])


def _our_name(unit: str) -> str:
    """``eyeBlinkLeft`` -> ``eye_blink_own_left``."""
    words = "".join(f"_{letter.lower()}" if letter.isupper() else letter for letter in unit)
    for side in ("left", "right"):
        if words.endswith(f"_{side}"):
            return words.removesuffix(side) + f"own_{side}"
    return words


def displacement(head: Build, moved_dm: Floats) -> Floats:
    """A slider's displacement (V, 3) mm; eyeballs move whole and the eye midpoint stays.

    What moves most of the face also loses its rotation: how a head is held is no shape.
    """
    moved = moved_dm * MM_PER_DM * head.sized.scale
    left = moved[head.source.left_eye].mean(axis=0)
    right = moved[head.source.right_eye].mean(axis=0)
    ball = head.ball
    skin = moved[head.crop.kept][head.parents].mean(axis=1)
    moves = np.vstack([skin, np.tile(left, (ball, 1)), np.tile(right, (ball, 1))])
    places = head.vertices_mm.copy()
    places[head.skin : head.skin + ball] = head.seat.centre_mm
    places[head.skin + ball :] = mirrored(head.seat.centre_mm)
    face = np.unique(head.triangles[np.isin(head.labels, list(FACE))])
    whole = np.abs(moves[face]).max(axis=1) > STEP_MM
    moves = moves - (left + right) / 2
    if np.mean(whole) > 0.5:
        moves -= np.cross(_mean_turn(places[face], moves[face]), places)
    return moves


def _mean_turn(places: Floats, moves: Floats) -> Floats:
    """The small rotation vector (3,) about the origin that explains most of ``moves`` (N, 3)."""
    columns = [np.cross(axis, places).reshape(-1) for axis in np.eye(3)]
    turn, *_ = np.linalg.lstsq(np.stack(columns, axis=1), moves.reshape(-1), rcond=None)
    return turn


def _expression(head: Build, moved_dm: Floats) -> Floats:
    """A unit's displacement (V, 3) mm; eyeballs turn about their centres as the source's do."""
    moved = moved_dm * MM_PER_DM * head.sized.scale
    skin = moved[head.crop.kept][head.parents].mean(axis=1)
    balls = []
    for side, group in enumerate((head.source.left_eye, head.source.right_eye)):
        count = head.ball
        ball = head.vertices_mm[head.skin + side * count : head.skin + (side + 1) * count]
        centre = head.seat.centre_mm * [1 - 2 * side, 0, 0]
        turn = _turn(head.source.vertices_dm[group], moved_dm[group])
        balls.append((ball - centre) @ (turn - np.eye(3)).T)
    return np.vstack([skin, *balls])


def _turn(points: Floats, moved: Floats) -> Floats:
    """The rotation (3, 3) that best carries points (N, 3) about their mean as they moved."""
    before = points - points.mean(axis=0)
    after = points + moved
    u, _, vt = np.linalg.svd((after - after.mean(axis=0)).T @ before)
    return u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt


def _packed(name: str, moves: Floats) -> dict[str, Any]:
    """Whole steps of the moved vertices only, coordinate by coordinate, and a bit mask of them."""
    steps = np.round(moves / STEP_MM).astype(np.int16)
    moved = steps.any(axis=2).reshape(-1)
    return {
        f"{name}_rows": np.int32(len(moves)),
        f"{name}_moved": np.packbits(moved),
        f"{name}_steps": np.ascontiguousarray(steps.reshape(-1, 3)[moved].T),
    }
