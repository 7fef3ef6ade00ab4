import json

import numpy as np
import pytest
import typst
from numpy.testing import assert_allclose

from sitwell.sheet.ink import FONT, WIDTHS, Box, Canvas, Label, arc_points, text_width_mm

from .samples import overlap


def test_letter_widths_are_the_typesetters_own():
    # Independent: the typesetter measures each letter of the face that it carries, at 100 pt.
    letters = sorted(WIDTHS)
    source = (
        "#let letters = json(bytes(sys.inputs.letters))\n#set text(size: 100pt, kerning: false, "
        f'font: "{FONT}")\n'
        "#context [#metadata(letters.map(l => measure(text(l)).width.pt())) <widths>]"
    )
    measured = json.loads(
        typst.query(
            source.encode(),
            "<widths>",
            field="value",
            one=True,
            ignore_system_fonts=True,
            sys_inputs={"letters": json.dumps(letters)},
        )
    )
    # 0.5 thousandths: the table is rounded to whole thousandths of the type size.
    assert_allclose([WIDTHS[letter] for letter in letters], np.array(measured) * 10, atol=0.51)


def test_an_unknown_letter_counts_as_the_widest():
    assert text_width_mm("字", 3.0) >= text_width_mm("W", 3.0)


def test_labels_at_one_anchor_stand_apart():
    canvas = Canvas(width_mm=80, height_mm=60, text_mm=3)
    canvas.place(Label(lines=(f"label {n}", "1.00 m"), anchor=(40.0, 30.0)) for n in range(9))
    for index, box in enumerate(canvas.boxes):
        assert not any(overlap(box, other) for other in canvas.boxes[index + 1 :])


def test_a_label_keeps_off_the_ink():
    canvas = Canvas(width_mm=80, height_mm=60, text_mm=3)
    canvas.line(((30, 20), (50, 20), (50, 40), (30, 40)), closed=True, fill="#fff")
    canvas.place([Label(lines=("inside?",), anchor=(40.0, 30.0))])
    assert not overlap(canvas.boxes[0], Box(x=30, y=20, width=20, height=20))


def test_a_far_label_is_led_to_its_anchor():
    canvas = Canvas(width_mm=80, height_mm=60, text_mm=3)
    canvas.line(((30, 20), (50, 20), (50, 40), (30, 40)), closed=True, fill="#fff")
    before = len(canvas.elements)
    canvas.place([Label(lines=("key",), anchor=(40.0, 30.0))])
    assert sum("<path" in element for element in canvas.elements[before:]) == 1


def test_text_is_escaped():
    canvas = Canvas(width_mm=80, height_mm=60, text_mm=3)
    canvas.place([Label(lines=("<a & b>",), anchor=(40.0, 30.0))])
    assert "&lt;a &amp; b&gt;" in canvas.svg()


def test_an_arc_runs_from_straight_down_to_the_right():
    points = arc_points((1.0, 2.0), 2.0, 0.0, 90.0)
    assert_allclose(points[[0, -1]], [[1.0, 4.0], [3.0, 2.0]], atol=1e-12)


@pytest.mark.parametrize(("x", "overlaps"), [(9.9, True), (10.0, False), (-9.9, True)])
def test_boxes_that_share_an_edge_stand_apart(x, overlaps):
    box = Box(x=0.0, y=0.0, width=10.0, height=5.0)
    assert overlap(box, Box(x=x, y=1.0, width=10.0, height=2.0)) is overlaps
