"""The drawings: to scale, on the right side, inside the paper, no label on another."""

import math
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from numpy.testing import assert_allclose

from sitwell.base.words import spoken
from sitwell.scene.framing import distance_for_framing
from sitwell.scene.setup import FRAMINGS, Setup
from sitwell.sheet import figures
from sitwell.sheet.drawing import MARGIN_MM, plan_drawing, side_drawing
from sitwell.sheet.ink import KEY_FILL, LAMP_FILL
from sitwell.sheet.pdf import HEIGHTS_MM, VIEWS_WIDTH_MM

from .samples import GRID, SETUPS, TYPICAL, overlap

PAPERS = (("plan", 84.0, 65.0), ("plan", 84.0, 86.0), ("side", 84.0, 33.0))


def drawn(setup, view, width, height):
    return (plan_drawing if view == "plan" else side_drawing)(setup, width, height)


def texts(drawing):
    nodes = ElementTree.fromstring(drawing.svg).iter("{http://www.w3.org/2000/svg}text")
    return [node.text for node in nodes]


def assert_clear(drawing, width, height):
    for index, box in enumerate(drawing.boxes):
        assert 0 <= box.x <= box.x + box.width <= width + 1e-9
        assert 0 <= box.y <= box.y + box.height <= height + 1e-9
        assert not any(overlap(box, other) for other in drawing.boxes[index + 1 :])


def key_points(drawing):
    path = re.search(rf'd="M([^"]+)Z" fill="{KEY_FILL}"', drawing.svg).group(1)
    return np.array([[float(n) for n in p.split()] for p in path.split(" L")])


@pytest.mark.parametrize("setup", GRID[::3])
@pytest.mark.parametrize(("view", "width", "height"), PAPERS)
def test_labels_never_overlap_nor_leave_the_paper(setup, view, width, height):
    assert_clear(drawn(setup, view, width, height), width, height)


@settings(max_examples=25, deadline=None)
@given(setup=SETUPS)
def test_labels_of_any_setup_never_overlap(setup):
    for view, width, height in PAPERS:
        assert_clear(drawn(setup, view, width, height), width, height)


# As printed: the set-ups of the documentation's sheets, and others whose key crowds the camera.
CROWDED = [
    Setup(
        turn_deg=turn,
        camera_height_mm=-300.0,
        distance_mm=distance,
        key_azimuth_deg=azimuth,
        key_elevation_deg=30.0,
        key_distance_mm=1500.0,
        key_size_mm=900.0,
    )
    for turn, azimuth in ((6.0, 10.0), (-6.0, -10.0), (22.0, 0.0), (30.0, 35.0), (-20.0, -50.0))
    for distance in (1560.0, 2400.0)
]


def filled(drawing):
    """Corners of what is filled with a tone, from the drawing itself."""
    paths = re.findall(r'd="M([^"]+)Z" fill="(#\w+)"', drawing.svg)
    return [
        np.array([[float(n) for n in p.split()] for p in path.split(" L")])
        for path, fill in paths
        if fill != "#ffffff"
    ]


def lies_on(box, corners):
    """Whether any of a grid of points inside a box lies inside a closed shape."""
    x, y = np.meshgrid(
        np.linspace(box.x, box.x + box.width, 40), np.linspace(box.y, box.y + box.height, 12)
    )
    inside = np.zeros(x.shape, dtype=bool)
    for (x1, y1), (x2, y2) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        rise = y2 - y1 if y2 != y1 else 1.0
        inside ^= ((y1 > y) != (y2 > y)) & (x < x1 + (x2 - x1) * (y - y1) / rise)
    return inside.any()


@pytest.mark.parametrize("told", ["en", "de"])
@pytest.mark.parametrize("setup", CROWDED)
@pytest.mark.parametrize("heights", sorted(HEIGHTS_MM.values()))
def test_no_label_lies_on_key_camera_or_sitter(setup, told, heights):
    with spoken(told):
        drawings = (
            plan_drawing(setup, VIEWS_WIDTH_MM, heights[2]),
            side_drawing(setup, VIEWS_WIDTH_MM, heights[3]),
        )
    for drawing in drawings:
        for box in drawing.boxes:
            assert not any(lies_on(box, corners) for corners in filled(drawing))


LAMPS = TYPICAL.with_changes(rim="on", rim_azimuth_deg=140, background_light="on")


@pytest.mark.parametrize(("view", "width", "height"), PAPERS)
@pytest.mark.parametrize("azimuth_deg", [-180, -140, -105, 105, 140])
@pytest.mark.parametrize("background_mm", [700, 2000, 8000])
def test_labels_of_lamps_behind_never_overlap(view, width, height, azimuth_deg, background_mm):
    setup = LAMPS.with_changes(rim_azimuth_deg=azimuth_deg, background_distance_mm=background_mm)
    assert_clear(drawn(setup, view, width, height), width, height)


def lamp_middles(drawing):
    paths = re.findall(rf'd="M([^"]+)Z" fill="{LAMP_FILL}"', drawing.svg)
    return [np.mean([[float(n) for n in p.split()] for p in path.split(" L")], 0) for path in paths]


def test_lamps_behind_are_drawn_and_named_only_when_they_are_on():
    plain, lamps = plan_drawing(TYPICAL, 84, 86), plan_drawing(LAMPS, 84, 86)
    assert (len(lamp_middles(plain)), len(lamp_middles(lamps))) == (0, 2)
    assert {"rim light", "background light", "140° camera right"} <= set(texts(lamps))
    assert not {"rim light", "background light"} & set(texts(plain))
    side = side_drawing(LAMPS, 84, 33)
    assert len(lamp_middles(side)) == 2
    assert any(text.startswith("rim light") for text in texts(side))


def test_the_rim_light_stands_behind_on_its_side_and_to_scale():
    drawing = plan_drawing(LAMPS, 84, 86)
    rim, _ = lamp_middles(drawing)
    camera_right = plan_drawing(LAMPS.with_changes(rim_azimuth_deg=-140), 84, 86)
    assert rim[0] > lamp_middles(camera_right)[0][0]
    near, far = (
        lamp_middles(plan_drawing(LAMPS.with_changes(rim_azimuth_deg=a), 84, 86))[0]
        for a in (100, 180)
    )
    # from above the page's foot is the camera: farther round is farther up the page
    assert far[1] < near[1]


def test_a_lamp_for_a_near_background_stands_beside_the_sitter():
    tight = LAMPS.with_changes(rim="off", background_distance_mm=700)
    roomy = LAMPS.with_changes(rim="off", background_distance_mm=2500)
    (beside,), (behind,) = (lamp_middles(plan_drawing(s, 84, 86)) for s in (tight, roomy))
    middle = 42.0
    assert abs(beside[0] - middle) > abs(behind[0] - middle)


def test_the_key_stands_on_its_side_of_the_page():
    left = key_points(plan_drawing(Setup(key_azimuth_deg=-60.0), 84, 86)).mean(axis=0)
    right = key_points(plan_drawing(Setup(key_azimuth_deg=60.0), 84, 86)).mean(axis=0)
    assert left[0] < right[0]


def test_the_key_is_drawn_to_scale():
    setup = Setup(key_azimuth_deg=0.0, key_elevation_deg=0.0, key_size_mm=900.0)
    drawing = plan_drawing(setup, 84, 86)
    width, depth = np.ptp(key_points(drawing), axis=0)
    # Written to 0.01 mm on the paper.
    assert_allclose(width, 900.0 * drawing.scale, atol=0.021)
    assert_allclose(depth, figures.KEY_DEPTH_MM * drawing.scale, atol=0.021)


@given(setup=SETUPS)
@settings(max_examples=25)
def test_the_keys_front_faces_the_eyes_at_its_distance(setup):
    corners = figures.key_box(setup)
    front = corners[:4]
    assert_allclose(np.linalg.norm(front.mean(axis=0)), setup.key_distance_mm, rtol=1e-9)
    assert_allclose(np.linalg.norm(corners[1] - corners[0]), setup.key_size_mm, rtol=1e-9)
    away, _ = figures.key_axis(setup)
    assert_allclose((front - front.mean(axis=0)) @ away, 0.0, atol=1e-6)


def test_the_nose_points_where_the_head_turns():
    _, nose = figures.head_from_above(Setup(turn_deg=30.0))
    tip, feet = nose[1], (nose[0] + nose[2]) / 2
    assert_allclose(math.degrees(math.atan2(*(tip - feet)[[0, 2]])), 30.0, atol=1e-9)


def test_a_raised_chin_raises_the_nose_of_the_profile():
    level, raised = (figures.head_from_side(Setup(chin_deg=d))[7] for d in (0.0, 15.0))
    assert raised[1] > level[1]


def test_the_angle_of_view_is_that_of_a_focused_thin_lens():
    # 85 mm at 2 m: image at 85 * 2000 / 1915 = 88.77 mm; 24 mm wide, so 2 atan(12 / 88.77).
    across, up = figures.view_angles_deg(Setup(aspect="2:3"))
    assert_allclose(across, 15.40, atol=0.01)
    assert_allclose(up, 2 * math.degrees(math.atan(18 / 88.773)), atol=0.01)


def test_distances_angles_and_sides_are_written():
    plan = texts(plan_drawing(TYPICAL, 84, 86))
    for words in ("1.80 m (5 ft 11 in)", "40° camera left", "nose 22°", "camera right", "key",
                  "camera left", "background", "2.00 m (6 ft 7 in)", "1 m (3.3 ft)"):  # fmt: skip
        assert words in plan
    side = texts(side_drawing(TYPICAL, 84, 33))
    for words in ("lens 12 cm (5 in) below", "key 79 cm (31 in) above", "chin 7° up", "eye line"):
        assert words in " ".join(side)


def test_the_fill_is_opposite_the_key_or_at_the_camera():
    for azimuth in (-50.0, 50.0):
        panel = figures.fill_panel(Setup(key_azimuth_deg=azimuth))
        assert np.sign(panel.mean(axis=0)[0]) == -np.sign(azimuth)
    drawing = plan_drawing(Setup(key_azimuth_deg=5.0), 84, 86)
    assert "camera side, by meter" in " ".join(texts(drawing))


def test_a_far_background_is_brought_in_with_its_line_broken():
    near, far = (Setup(background_distance_mm=d) for d in (2000.0, 9000.0))
    assert figures.drawn_background_mm(near) == 2000.0
    assert figures.drawn_background_mm(far) < 9000.0
    drawing = plan_drawing(far, 84, 86)
    assert "9.00 m (29 ft 6 in)" in texts(drawing)
    assert drawing.svg.count('stroke="#ffffff"') == 1
    assert plan_drawing(near, 84, 86).svg.count('stroke="#ffffff"') == 0


@pytest.mark.parametrize("height_mm", sorted({heights[3] for heights in HEIGHTS_MM.values()}))
@pytest.mark.parametrize("framing", FRAMINGS)
@pytest.mark.parametrize("focal_mm", [50.0, 85.0, 135.0])
def test_no_label_crosses_the_wall_in_the_view_from_the_side(height_mm, framing, focal_mm):
    setup = Setup(framing=framing, focal_mm=focal_mm)
    setup = setup.with_changes(distance_mm=distance_for_framing(setup))
    drawing = side_drawing(setup, VIEWS_WIDTH_MM, height_mm)
    wall_mm = MARGIN_MM  # the set is drawn from the margin on, and the wall is its end
    upright = f"M{wall_mm:.2f} 2.00 L{wall_mm:.2f} {height_mm - 2.0:.2f}"
    assert upright in drawing.svg
    assert all(box.x > wall_mm for box in drawing.boxes)
