"""The line drawing: its lines lie where the head's are, what is hidden is not drawn, and the washes
lie on the side away from the key. Both of its forms are the same picture."""

import math
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest
import typst
from PIL import Image

from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.likeness.line_drawing import CONTOUR, LineDrawing
from sitwell.likeness.line_work import PAPER, LineWork
from sitwell.likeness.mesh_lines import border, linked, turning_lines
from sitwell.likeness.pen import runs, smoothed
from sitwell.scene.preview import Sculpture, picture_window
from sitwell.scene.setup import Setup

WIDTH_PX, HEIGHT_PX = 320, 400


@pytest.fixture(scope="module")
def head():
    return build_head()


@pytest.fixture(scope="module")
def drawing(head):
    return LineDrawing(head)


def test_pairs_are_linked_to_the_chains_that_they_make():
    ring, open_chain = linked(np.array([(4, 5), (1, 2), (2, 3), (3, 1), (5, 6)]))
    assert ring[0] == ring[-1]
    assert set(ring) == {1, 2, 3}
    assert open_chain.tolist() in ([4, 5, 6], [6, 5, 4])


def test_the_border_of_two_patches_is_the_edge_that_they_share():
    triangles = np.array([(0, 1, 2), (2, 1, 3), (2, 3, 4)], dtype=np.int32)
    region = np.array([7, 8, 8], dtype=np.uint8)
    assert sorted(border(triangles, region, {7}, {8}).tolist()) == [1, 2]
    assert len(border(triangles, region, {7}, {9})) == 0


def ball(radius: float, rings: int = 24) -> tuple[np.ndarray, np.ndarray]:
    polar, around = np.meshgrid(
        np.linspace(0.01, math.pi - 0.01, rings), np.linspace(0.0, math.tau, 2 * rings)
    )
    places = np.stack(
        [np.sin(polar) * np.cos(around), np.sin(polar) * np.sin(around), np.cos(polar)], axis=-1
    )
    at = np.arange(places[..., 0].size).reshape(polar.shape)
    cells = [at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, :-1], at[1:, 1:], at[:-1, 1:]]
    return radius * places.reshape(-1, 3), np.stack(cells, axis=-1).reshape(-1, 3)


def test_a_ball_turns_from_the_lens_on_the_circle_that_geometry_gives():
    radius, distance = 100.0, 400.0
    places, triangles = ball(radius)
    lens = np.array([distance, 0.0, 0.0])
    facing = ((lens - places) * places).sum(axis=1)
    found = np.concatenate([line for line, _ in turning_lines(places, triangles, facing)])
    # tangents from a point touch a ball at this depth
    assert found[:, 0] == pytest.approx(radius**2 / distance, abs=1.0)


def test_a_smoothed_line_keeps_its_ends_and_short_gaps_are_closed():
    line = np.random.default_rng(1).normal(size=(30, 2)).cumsum(axis=0)
    assert smoothed(line, 3.0)[[0, -1]] == pytest.approx(line[[0, -1]])
    flags = np.array([1, 1, 0, 1, 0, 0, 0, 1], dtype=bool)
    assert runs(flags, 1) == [(0, 4), (7, 8)]


@pytest.mark.parametrize("turn_deg", [-25.0, 0.0, 25.0])
def test_the_outline_of_the_face_lies_where_the_shaded_head_ends(head, drawing, turn_deg):
    setup = Setup(turn_deg=turn_deg, background_stops=0.0)
    view = drawing.view(setup)
    rows = [round(each) for each in _rows_between(view, "mouth_corner_own_left", "chin")]
    drawn = _edges(drawing.draw(setup, WIDTH_PX, HEIGHT_PX).shapes[0].rings, rows)
    light = Sculpture(head).render(setup.with_changes(background_stops=-12.0), WIDTH_PX, HEIGHT_PX)
    for row, (left, right) in zip(rows, drawn, strict=True):
        covered = np.flatnonzero(light[row].max(axis=1) > 24)
        assert left == pytest.approx(covered[0], abs=2.0)
        assert right == pytest.approx(covered[-1] + 1, abs=2.0)


def _rows_between(view, upper, lower):
    _, top, scale = picture_window(view, WIDTH_PX, HEIGHT_PX)
    ends = [(top - view.camera.project(view.point_mm(name))[1]) * scale for name in (upper, lower)]
    return np.linspace(*ends, 7)[1:-1]


def _edges(rings, rows):
    mask = np.zeros((HEIGHT_PX, WIDTH_PX), dtype=np.uint8)
    cv2.fillPoly(mask, [np.round(16 * ring).astype(np.int32) for ring in rings], 1, shift=4)
    covered = [np.flatnonzero(mask[row]) for row in rows]
    return [(each[0], each[-1] + 1) for each in covered]


def test_a_line_behind_the_head_is_left_out(drawing):
    view = drawing.view(Setup(turn_deg=70.0))
    window = picture_window(view, WIDTH_PX, HEIGHT_PX)
    seen = drawing._figure.seen(view, window, (WIDTH_PX, HEIGHT_PX))
    anatomy = drawing._anatomy

    def ear(side: str) -> list:
        around = border(
            anatomy.triangles,
            anatomy.region,
            {Region[f"EAR_{side}"]},
            set(Region) - {Region[f"EAR_{side}"]},
        )
        return list(LineWork(seen).stroke(seen.places_mm[around], CONTOUR))

    assert not ear("OWN_LEFT")  # turned to own left: that ear is behind
    assert ear("OWN_RIGHT")


def test_washes_lie_on_the_side_away_from_the_key(drawing):
    def halves(azimuth_deg: float) -> float:
        setup = Setup(key_azimuth_deg=azimuth_deg, fill_ratio=5.0)
        made = drawing.draw(setup, WIDTH_PX, HEIGHT_PX).pixels().astype(float).mean(axis=2)
        face = made[round(0.3 * HEIGHT_PX) : round(0.5 * HEIGHT_PX), 110:210]
        return float(face[:, 50:].mean() - face[:, :50].mean())

    assert halves(50.0) > 5.0  # key on camera right: that side is the lighter
    assert halves(-50.0) < -5.0


def test_a_darker_ground_is_drawn_darker(drawing):
    light, dark = (
        drawing.draw(Setup(background_stops=stops), 80, 100).pixels()[2, 2].mean()
        for stops in (0.0, -3.0)
    )
    assert light > dark + 40.0


def test_both_forms_are_the_same_picture(drawing, tmp_path):
    made = drawing.draw(Setup(turn_deg=12.0), WIDTH_PX, HEIGHT_PX)
    text = made.svg()
    assert ElementTree.fromstring(text).get("viewBox") == f"0 0 {WIDTH_PX} {HEIGHT_PX}"
    (tmp_path / "seen.svg").write_text(text, encoding="utf-8")
    (tmp_path / "page.typ").write_text(
        f"#set page(width: {WIDTH_PX}pt, height: {HEIGHT_PX}pt, margin: 0pt)\n"
        '#image("seen.svg", width: 100%)',
        encoding="utf-8",
    )
    typst.compile(tmp_path / "page.typ", tmp_path / "page.png", format="png", ppi=72.0)
    with Image.open(tmp_path / "page.png") as opened:
        other = np.asarray(opened.convert("RGB")).astype(float)
    apart = np.abs(made.pixels() - other)
    assert apart.mean() < 2.0  # of 255: two painters round edges differently
    assert np.percentile(apart, 99) < 60.0


def test_the_figure_is_drawn_on_paper_and_is_moved_as_a_whole(drawing):
    made = drawing.draw(Setup(), WIDTH_PX, HEIGHT_PX)
    assert made.shapes[0].tone == PAPER
    moved = made.moved(lambda ring: ring + np.array((3.0, 5.0)))
    assert moved[0].rings[0] == pytest.approx(made.shapes[0].rings[0] + (3.0, 5.0))


@pytest.mark.parametrize("framing", ["tight-head", "full-length"])
def test_lines_are_fine_enough_for_a_small_face(drawing, framing):
    made = drawing.draw(Setup(framing=framing, distance_mm=4000.0), WIDTH_PX, HEIGHT_PX)
    assert len(made.shapes) > 40
    assert all(np.isfinite(ring).all() for shape in made.shapes for ring in shape.rings)
