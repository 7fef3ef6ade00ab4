"""The eyes of a likeness turn under the lids to where the set-up has them look."""

import dataclasses
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.head.surface import Head
from sitwell.likeness.body import Body, with_mouth
from sitwell.likeness.likened import angle_deg
from sitwell.scene.gaze import Eye, find_eyes, look_at
from sitwell.scene.refine import Refinement
from sitwell.scene.setup import Setup

Floats = NDArray[np.float64]

FAR_MM = 1e5
MOST_TURN_DEG = 24.0  # beyond it too much of the eye that comes into view was under the lids


def fine_eyes(head: Head, body: Body, fine: Refinement) -> tuple[Eye, Eye]:
    """The eyes of a level head, own left first, on its finer mesh."""
    left, right = (_finer(eye, len(head.vertices_mm), body, fine) for eye in find_eyes(head))
    return left, right


def _finer(eye: Eye, count: int, body: Body, fine: Refinement) -> Eye:
    ball, lids = np.zeros(count), np.zeros(count)
    ball[eye.ball], lids[eye.lids] = 1.0, eye.lid_share
    ball, lids = (with_mouth(body, fine.spread(each[:, None]))[:, 0] for each in (ball, lids))
    moves = np.flatnonzero((lids != 0.0) & (ball < 0.5)).astype(np.int32)
    return dataclasses.replace(
        eye,
        ball=np.flatnonzero(ball > 0.99).astype(np.int32),
        lids=moves,
        lid_share=np.ascontiguousarray(lids[moves]),
    )


def turned(
    level_mm: Floats, eyes: Sequence[Eye], looked_at_mm: Floats, lens_mm: Floats, setup: Setup
) -> Floats:
    """The level head's places (N, 3), its eyes turned from what they looked at in the frame.

    To the lens, or ahead where the set-up's gaze is; too far a way, and they stay as they were.
    """
    moved = level_mm.copy()
    for eye in eyes:
        was = looked_at_mm - eye.centre_mm
        was /= np.linalg.norm(was)
        now = lens_mm
        if setup.gaze != "lens":
            now = eye.centre_mm + FAR_MM * eye.rest
        turn_deg = angle_deg(was, (now - eye.centre_mm) / np.linalg.norm(now - eye.centre_mm))
        if turn_deg < MOST_TURN_DEG:
            look_at(moved, dataclasses.replace(eye, rest=was), now)
    return moved


def lens_of_setup(setup: Setup, pivot_mm: Floats, rotation: Floats) -> Floats:
    """The lens (3,) as the level head has it in a set-up."""
    shift = np.array([0.0, 0.0, setup.chin_forward_mm])
    return np.asarray(rotation.T @ (setup.lens_mm() - pivot_mm - shift) + pivot_mm)
