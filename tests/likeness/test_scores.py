"""How the benchmark of the likeness tells pictures apart, on frames whose difference is known."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from benchmarks.likeness_scores import Truth, laid_on, outline_errors_px, person_by_ground, score
from builders.sitters.cast import KINDS

SIDE, FACE_PX = 240, 100.0


@pytest.fixture(scope="module")
def truth():
    """A disc of skin with a pattern before a grey wall; its face is 100 pixels high."""
    rows, columns = np.mgrid[:SIDE, :SIDE] - SIDE / 2.0
    disc = np.hypot(rows, columns) < 60.0
    cover = np.zeros((SIDE, SIDE, len(KINDS)))
    cover[..., KINDS.index("skin")] = disc
    cover[..., KINDS.index("nothing")] = ~disc
    pattern = 130.0 + 30.0 * np.sin(rows / 5.0) * np.cos(columns / 7.0)
    rgb = np.where(disc[..., None], pattern[..., None] * (1.0, 0.8, 0.7), 90.0).astype(np.uint8)
    points = {"hairline": (120, 75), "chin": (120, 175), "nose_root": (120, 105)}
    points |= {"cheekbone_own_left": (150, 115), "cheekbone_own_right": (90, 115)}
    points |= {"mouth_corner_own_left": (135, 145), "mouth_corner_own_right": (105, 145)}
    return Truth(
        path=Path("frame.jpg"),
        rgb=rgb,
        cover=cover,
        points_px={name: np.array(at, dtype=float) for name, at in points.items()},
        landmarks_px=np.array([[90.0, 100.0], [150.0, 100.0], [120.0, 150.0]]),
    )


def test_the_frame_itself_scores_full_marks(truth):
    scores = score(laid_on(truth.rgb, truth.person, truth.landmarks_px, truth), truth)
    assert scores.similarity == pytest.approx(1.0)
    assert scores.inside == pytest.approx(1.0)
    assert scores.outline == scores.points == scores.holes == 0.0
    assert [scores.stops, scores.colour] == pytest.approx([0.0, 0.0], abs=1e-6)


def test_a_picture_at_another_place_and_size_is_laid_on_the_frame(truth):
    small, person = truth.rgb[::2, ::2], truth.person[::2, ::2]
    scores = score(laid_on(small, person, truth.landmarks_px / 2.0, truth), truth)
    assert scores.points < 0.01
    assert scores.outline < 1.5  # of half the pixels


def test_an_outline_four_pixels_farther_out_is_off_by_four(truth):
    rows, columns = np.mgrid[:SIDE, :SIDE] - SIDE / 2.0
    wide = np.hypot(rows, columns) < 64.0
    errors = outline_errors_px(wide, truth.person, truth.above_chin)
    assert errors.mean() == pytest.approx(4.0, abs=0.4)


def test_a_stop_darker_a_hole_and_a_bend_are_told(truth):
    laid = laid_on(truth.rgb, truth.person, truth.landmarks_px, truth)
    linear = ((laid.rgb / 255.0 + 0.055) / 1.055) ** 2.4
    darker = np.round(255.0 * (1.055 * (linear / 2.0) ** (1 / 2.4) - 0.055)).astype(np.uint8)
    scores = score(dataclasses.replace(laid, rgb=darker), truth)
    assert scores.stops == pytest.approx(-1.0, abs=0.05)
    assert scores.colour > 5.0
    holed = laid.person.copy()
    holed[110:120, 100:110] = False
    assert score(dataclasses.replace(laid, person=holed), truth).holes == pytest.approx(
        100.0 * 100 / truth.head.sum()
    )
    bent = truth.landmarks_px + np.array([[2.0, 0.0], [-2.0, 0.0], [0.0, 3.0]])
    assert score(laid_on(truth.rgb, truth.person, bent, truth), truth).points > 0.5


def test_the_person_is_what_stays_when_the_ground_changes(truth):
    other = np.where(truth.person[..., None], truth.rgb, 200).astype(np.uint8)
    assert (person_by_ground(truth.rgb, other) == truth.person).all()
