"""Several sitters in one drawing: where each lies, and who covers whom."""

import numpy as np
import pytest
from scipy.ndimage import center_of_mass, label

from sitwell.head.surface import build_head
from sitwell.likeness.drawn_together import Scene, Standing, draw_together, show_together
from sitwell.likeness.likened import CutOut
from sitwell.likeness.line_drawing import LineDrawing
from sitwell.scene.preview import CODED
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupSetup, Place
from sitwell.search.moves import POSE_MOVES

STILL = dict.fromkeys(POSE_MOVES, 0.0)
HEIGHT_PX, DISC_MM = 160, 60.0


@pytest.fixture(scope="module")
def drawing():
    return LineDrawing(build_head())


def place(x_mm, y_mm=0.0, z_mm=0.0):
    return Place(x_mm=x_mm, y_mm=y_mm, z_mm=z_mm)


class Marked:
    """A stand-in for a likeness: a red disc about the eyes, nothing else."""

    def __init__(self, drawing):
        self.drawing = drawing

    def view(self, setup):
        return self.drawing.view(setup)

    def cut_out(self, view, window, width_px, height_px):
        x, y, depth = view.camera.project(view.eyes_mm)
        middle = np.array([(x - window[0]) * window[2], (window[1] - y) * window[2]])
        rows, columns = np.mgrid[0:height_px, 0:width_px] + 0.5
        near = np.hypot(columns - middle[0], rows - middle[1]) < DISC_MM / depth * window[2]
        light = near[..., None] * np.array([1.0, 0.0, 0.0])
        ground = np.array([0.0, 0.0, 0.2])
        return CutOut(light=light, cover=near.astype(np.float32), ground=ground)


def grouped(drawing, *places, shown=()):
    """A group, everybody in it, and the scene."""
    setup = Setup(distance_mm=2800.0, key_azimuth_deg=0.0)
    group = GroupSetup(shared=setup, places=places, poses=(STILL,) * len(places), lying=True)
    window = tuple(length / setup.distance_mm for length in group.picture_mm())
    standing = [
        Standing(
            drawing=drawing,
            setup=group.own(i),
            bearing_deg=group.bearing_deg(i),
            likeness=Marked(drawing) if i in shown else None,
        )
        for i in range(len(places))
    ]
    return group, standing, Scene(lens_mm=setup.lens_mm(), window=window, height_px=HEIGHT_PX)


def drawn(drawing, *places):
    group, standing, scene = grouped(drawing, *places)
    return group, draw_together(standing, scene)


def eyes_px(group, made, at):
    left, top, wide, high = group.picture_mm()
    eyes = group.places[at]
    return (eyes.x_mm - left) / wide * made.width, (top - eyes.y_mm) / high * made.height


def red_of(picture):
    """Where a picture shows a disc."""
    return (picture[..., 0] > 200) & (picture[..., 1] < 60)


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


def test_a_likeness_lies_where_the_drawing_would(drawing):
    places = place(-200.0, 30.0), place(200.0, -20.0)
    group, standing, scene = grouped(drawing, *places, shown=(0, 1))
    discs, count = label(red_of(show_together(standing, scene)))
    assert count == 2
    _, made = drawn(drawing, *places)
    for at, (y, x) in enumerate(
        sorted(center_of_mass(discs > 0, discs, [1, 2]), key=lambda c: c[1])
    ):
        assert (x + 0.5, y + 0.5) == pytest.approx(eyes_px(group, made, at), abs=0.7)


@pytest.mark.parametrize(("shown", "is_seen"), [(0, True), (1, False)])
def test_one_who_is_drawn_stands_among_those_who_are_shown(drawing, shown, is_seen):
    near, far = place(0.0, 0.0, 250.0), place(0.0, 0.0, -250.0)
    _, standing, scene = grouped(drawing, near, far, shown=(shown,))
    picture = show_together(standing, scene)
    assert red_of(picture).any() == is_seen  # the far one's is behind the near one's drawing
    assert (picture.min(axis=2) > 250).any()  # drawn as on paper
    assert picture[0, 0].tolist() == [0, 0, CODED[round(0.2 * (len(CODED) - 1))]]  # the ground
