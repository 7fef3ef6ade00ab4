"""Marks are read as documented, and a wrong one is named in one sentence."""

import contextlib
import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.base.errors import MarksError
from sitwell.brief.marks import Mark, check_marks, marks_from_dict, read_marks


def test_points_and_lines_are_read(tmp_path):
    content = {
        "a.jpg": {
            "ear_top_own_left": [10, 20.5],
            "chin": {"x_px": 1, "y_px": 2, "spread_px": 3},
            "nose_ridge": [[5, 6], {"x_px": 7, "y_px": 8}],
        }
    }
    (tmp_path / "marks.json").write_text(json.dumps(content))
    assert read_marks(tmp_path / "marks.json") == {
        "a.jpg": (
            Mark(name="ear_top_own_left", x_px=10.0, y_px=20.5),
            Mark(name="chin", x_px=1.0, y_px=2.0, spread_px=3),
            Mark(name="nose_ridge", x_px=5.0, y_px=6.0),
            Mark(name="nose_ridge", x_px=7.0, y_px=8.0),
        )
    }


def test_the_documented_example_is_valid():
    from pathlib import Path

    text = (Path(__file__).parents[2] / "docs" / "marks.md").read_text(encoding="utf-8")
    example = "\n".join(line[4:] for line in text.splitlines() if line.startswith("    "))
    assert len(marks_from_dict(json.loads(example))["front.jpg"]) == 7


def test_every_name_is_documented():
    from pathlib import Path

    from sitwell.brief.marks import LINE_NAMES, POINT_NAMES

    text = (Path(__file__).parents[2] / "docs" / "marks.md").read_text(encoding="utf-8")
    table = text.split("| name | where |")[1]
    assert set(re.findall(r"`(\w+)`", table)) == {*POINT_NAMES, *LINE_NAMES}


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(MarksError, match=r"There is no marks file '.*none\.json'; check the name"):
        read_marks(tmp_path / "none.json")


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(MarksError, match="may not be read; check it"):
        read_marks(tmp_path)


@pytest.mark.parametrize("data", [b"", b"{", b"\xff\xfe\x00", b"[" * 100_000, b"9" * 5000])
def test_what_is_no_json_is_refused(tmp_path, data):
    (tmp_path / "m.json").write_bytes(data)
    with pytest.raises(MarksError, match=r"'m\.json' is not JSON; write it as docs/marks\.md"):
        read_marks(tmp_path / "m.json")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ([], "The marks file 'marks' must map photograph names to points; write it as"),
        ({"a.jpg": 3}, "The marks of 'a.jpg' must map point names to positions, such as"),
        ({"a.jpg": {"halo": [1, 2]}}, "There is no mark 'halo' (in 'a.jpg'); choose from ear_top"),
        ({"a.jpg": {"chin": [1]}}, "The mark 'chin' of 'a.jpg' is [1]; give [x, y] or"),
        ({"a.jpg": {"chin": "here"}}, "The mark 'chin' of 'a.jpg' is \"here\"; give [x, y] or"),
        ({"a.jpg": {"chin": [1, True]}}, "The mark 'chin' of 'a.jpg' is [1, true]; give"),
        ({"a.jpg": {"chin": {"x": 1, "y": 2}}}, "The mark 'chin' of 'a.jpg' is {"),
        ({"a.jpg": {"chin": [10**400, 1]}}, "The mark 'chin' of 'a.jpg' is ["),
        ({"a.jpg": {"nose_ridge": [1, 2]}}, "The mark 'nose_ridge' of 'a.jpg' is a line; give a"),
        (
            {"a.jpg": {"chin": {"x_px": 1, "y_px": 2, "spread_px": 0}}},
            "The spread of mark 'chin' of 'a.jpg' is 0; give pixels from 0.1 to 500.",
        ),
    ],
)
def test_a_wrong_mark_is_named(content, says):
    with pytest.raises(MarksError, match=re.escape(says)):
        marks_from_dict(content)


def test_a_mark_outside_its_photograph_is_refused():
    marks = marks_from_dict({"a.jpg": {"chin": [500, 20]}})
    with pytest.raises(MarksError, match=re.escape(
        "The mark 'chin' of 'a.jpg' lies at 500, 20, outside its 400 x 300 pixels; "
        "place it again on the upright picture."
    )):  # fmt: skip
        check_marks(marks, {"a.jpg": (400, 300)})


def test_a_marked_photograph_that_was_not_given_is_a_note():
    marks = marks_from_dict({"a.jpg": {"chin": [5, 20]}, "b.jpg": {}})
    assert check_marks(marks, {"a.jpg": (400, 300)}) == (
        "'b.jpg' is marked but was not among the photographs.",
    )


@given(st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), st.text()),
    lambda inner: st.one_of(
        st.lists(inner), st.dictionaries(st.sampled_from(["a.jpg", "chin", "nose_ridge", "x_px"]),
                                         inner)
    ),
))  # fmt: skip
def test_no_content_can_break_the_reading(content):
    with contextlib.suppress(MarksError):
        marks_from_dict(content)
