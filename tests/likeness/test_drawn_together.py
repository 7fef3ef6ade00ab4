"""Several sitters in one drawing: where each lies, and who covers whom."""

import numpy as np
import pytest

from sitwell.head.surface import build_head
from sitwell.likeness.drawn_together import Standing, draw_together
from sitwell.likeness.line_drawing import LineDrawing
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupSetup, Place
from sitwell.search.moves import POSE_MOVES

STILL = dict.fromkeys(POSE_MOVES, 0.0)
HEIGHT_PX = 160


@pytest.fixture(scope="module")
def drawing():
    return LineDrawing(build_head())


def place(x_mm, y_mm=0.0, z_mm=0.0):
    return Place(x_mm=x_mm, y_mm=y_mm, z_mm=z_mm)


def drawn(drawing, *places):
    setup = Setup(distance_mm=2800.0, key_azimuth_deg=0.0)
    group = GroupSetup(shared=setup, places=places, poses=(STILL,) * len(places), lying=True)
    window = tuple(length / setup.distance_mm for length in group.picture_mm())
    standing = [
        Standing(drawing=drawing, setup=group.own(i), bearing_deg=group.bearing_deg(i))
        for i in range(len(places))
    ]
    return group, draw_together(standing, setup.lens_mm(), window, HEIGHT_PX)


def eyes_px(group, made, at):
    left, top, wide, high = group.picture_mm()
    eyes = group.places[at]
    return (eyes.x_mm - left) / wide * made.width, (top - eyes.y_mm) / high * made.height


def test_each_sitter_lies_where_the_camera_has_them(drawing):
    group, made = drawn(drawing, place(-200.0, 30.0), place(200.0))
    papers = [shape.rings[0] for shape in made.shapes if shape.tone == (255, 255, 255)]
    figures = sorted(papers, key=lambda ring: -np.ptp(ring[:, 1]))[:2]
    for at, ring in enumerate(sorted(figures, key=lambda ring: ring[:, 0].mean())):
        x, y = eyes_px(group, made, at)
        near = ring[np.abs(ring[:, 1] - y) < 2.0]
        assert near[:, 0].min() < x < near[:, 0].max()
        assert 0.5 * (near[:, 0].min() + near[:, 0].max()) == pytest.approx(x, abs=2.0)


def test_the_nearer_covers_the_farther_whoever_comes_first(drawing):
    near, far = place(-60.0, 0.0, 250.0), place(60.0, 0.0, -250.0)
    one, other = drawn(drawing, near, far)[1].pixels(), drawn(drawing, far, near)[1].pixels()
    assert np.array_equal(one, other)


def test_the_ground_does_not_hang_on_who_is_named_first(drawing):
    near, far = place(-200.0, 0.0, 250.0), place(200.0, 0.0, -250.0)
    assert drawn(drawing, near, far)[1].ground == drawn(drawing, far, near)[1].ground


def test_the_lower_stands_lower(drawing):
    group, made = drawn(drawing, place(-200.0, 60.0), place(200.0, -60.0))
    papers = [shape.rings[0] for shape in made.shapes if shape.tone == (255, 255, 255)]
    figures = sorted(papers, key=lambda ring: -np.ptp(ring[:, 1]))[:2]
    left, right = sorted(figures, key=lambda ring: ring[:, 0].mean())
    px_per_mm = made.height / group.picture_mm()[3]
    assert right[:, 1].min() - left[:, 1].min() == pytest.approx(120.0 * px_per_mm, abs=2.0)
