"""Sittings drawn in seconds: a sitter's frames are of one head, at the poses that are told."""

import numpy as np
from numpy.testing import assert_allclose

from builders.families.quick_sittings import draw_sittings, own_faces
from builders.traced.sittings import TURN_BANDS_DEG, read_sittings
from sitwell.head.sizes import head_sizes


def test_a_sitting_is_drawn_once_and_read_back(tmp_path):
    draw_sittings(tmp_path, 1, 5, None)
    (sitting,) = read_sittings(tmp_path, 1)
    assert len(sitting.shots) == len(TURN_BANDS_DEG)
    for shot, (low, high) in zip(sitting.shots, TURN_BANDS_DEG, strict=True):
        assert low <= abs(shot.turn_deg) <= high
        assert_allclose(
            shot.pose.seen_deg, (shot.turn_deg, shot.chin_deg, shot.tilt_deg), atol=1e-6
        )
    (face,) = own_faces(1, 5)
    assert head_sizes(sitting.face.head) == head_sizes(face.head)
    before = [(path, path.stat().st_mtime_ns) for path in sorted(tmp_path.rglob("*.jpg"))]
    draw_sittings(tmp_path, 1, 5, None)
    assert [(path, path.stat().st_mtime_ns) for path in sorted(tmp_path.rglob("*.jpg"))] == before


def test_own_faces_are_as_uneven_as_people():
    leans = [head_sizes(face.head)["nose_lean_mm"] for face in own_faces(40, 1)]
    assert 0.5 < np.std(leans) < 1.4
