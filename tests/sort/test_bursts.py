import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.sort.bursts import Shot, find_bursts, likeness, look_of

RANDOM = np.random.default_rng(1)
SCENES = [
    RANDOM.integers(0, 255, (48, 64, 3), dtype=np.uint8).repeat(8, 0).repeat(8, 1) for _ in range(3)
]
LOOKS = [look_of(scene) for scene in SCENES]


def shots(*rows):
    return [Shot(name=name, taken_s=taken, look=LOOKS[scene]) for name, taken, scene in rows]


def names(bursts):
    return sorted([shot.name for shot in burst] for burst in bursts)


def test_a_pause_ends_a_burst():
    found = find_bursts(shots(("a1.jpg", 0.0, 0), ("a2.jpg", 0.05, 0), ("a3.jpg", 9.0, 0)))
    assert names(found) == [["a1.jpg", "a2.jpg"], ["a3.jpg"]]


def test_another_picture_within_the_time_is_another_burst():
    found = find_bursts(shots(("a.jpg", 0.0, 0), ("b.jpg", 0.5, 1), ("c.jpg", 1.0, 0)))
    assert names(found) == [["a.jpg", "c.jpg"], ["b.jpg"]]


def test_two_scenes_that_a_clock_set_back_has_interleaved_stay_whole():
    rows = [(f"D_{100 + i:04d}.jpg", i * 0.5, 0) for i in range(4)]
    rows += [(f"D_{300 + i:04d}.jpg", i * 0.5 + 0.2, 0) for i in range(4)]
    found = names(find_bursts(shots(*sorted(rows, key=lambda row: row[1]))))
    assert found == [[f"D_{n + i:04d}.jpg" for i in range(4)] for n in (100, 300)]


def test_a_counter_that_begins_again_after_9999_runs_on():
    found = find_bursts(shots(("D_9998.jpg", 0, 0), ("D_9999.jpg", 0.1, 0), ("D_0001.jpg", 0.2, 0)))
    assert len(next(found)) == 3


def test_frames_without_a_time_go_by_name_and_look():
    rows = [
        ("x0001.jpg", None, 0),
        ("x0002.jpg", None, 0),
        ("x0009.jpg", None, 0),
        ("x0010.jpg", None, 1),
    ]
    assert names(find_bursts(shots(*rows))) == [
        ["x0001.jpg", "x0002.jpg"],
        ["x0009.jpg"],
        ["x0010.jpg"],
    ]


def test_a_frame_without_a_time_never_joins_one_with_a_time():
    assert len(list(find_bursts(shots(("a.jpg", 0.0, 0), ("b.jpg", None, 0))))) == 2


def test_names_that_carry_no_counter_go_by_time_and_look_alone():
    found = find_bursts(shots(("anna.jpg", 0, 0), ("20260101100059.jpg", 1, 0), ("b.jpg", 2, 0)))
    assert len(next(found)) == 3


def test_likeness_forgives_exposure_and_contrast():
    darker = (SCENES[0] * 0.3).astype(np.uint8)
    assert likeness(LOOKS[0], look_of(darker)) > 0.99
    assert likeness(LOOKS[0], LOOKS[0]) == pytest.approx(1.0)
    assert abs(likeness(LOOKS[0], LOOKS[1])) < 0.3


def test_a_blank_frame_is_like_a_blank_frame_only():
    blank = look_of(np.full((40, 40, 3), 128, np.uint8))
    assert likeness(blank, blank) == 1.0
    assert likeness(blank, LOOKS[0]) == 0.0


@given(st.lists(st.tuples(st.floats(0, 30), st.integers(0, 2)), max_size=25))
def test_every_frame_is_in_exactly_one_burst_in_order_of_time(rows):
    rows = sorted(rows)
    given_shots = shots(*[(f"s{i:04d}.jpg", t, scene) for i, (t, scene) in enumerate(rows)])
    bursts = list(find_bursts(given_shots))
    assert sorted(s.name for burst in bursts for s in burst) == [s.name for s in given_shots]
    for burst in bursts:
        times = [s.taken_s for s in burst]
        assert times == sorted(times)
        assert len({s.look for s in burst}) == 1
        assert all(b - a <= 2.0 for a, b in itertools.pairwise(times))
