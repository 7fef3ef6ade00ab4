"""Every JSON names its format, the page of fields is fresh, and files of older days open."""

import json

import pytest

from builders.docs import fields_page
from sitwell.base.errors import MarksError
from sitwell.base.formats import VERSIONS, format_of
from sitwell.brief.marks import marks_from_dict
from sitwell.head.reading import Reading
from sitwell.head.report import reading_as_dict
from sitwell.shoot.live import Checked
from sitwell.ui.web.paper import Sitting, from_text, now, to_text


def test_the_page_of_fields_is_fresh():
    assert fields_page.PAGE.read_text(encoding="utf-8") == fields_page.page(), (
        "run: python -m builders.docs.fields_page"
    )


def test_the_page_tells_of_every_format():
    text = fields_page.page()
    for what in VERSIONS:
        assert f"## {format_of(what)}\n" in text


def test_answers_name_their_format_first():
    reading = reading_as_dict(Reading(frames=(), fit=None, notes=()))
    checked = Checked(file="a.jpg").as_dict()
    for content, what in ((reading, "reading"), (checked, "checked frame")):
        assert next(iter(content.items())) == ("format", format_of(what))


def test_papers_of_a_version_without_a_format_open():
    sitting = Sitting(id="a" * 12, created=now())
    text = to_text(sitting)
    content = json.loads(text)
    assert content.pop("format") == format_of("sitting papers")
    assert from_text(text, sitting.id) == sitting
    assert from_text(json.dumps(content), sitting.id) == sitting


def test_marks_may_name_their_format():
    points = {"a.jpg": {"chin": [10, 20]}}
    bare = marks_from_dict(points)
    assert marks_from_dict({"format": "sitwell marks 1", **points}) == bare
    with pytest.raises(MarksError, match="'sitwell marks 9' of the marks file 'marks' is not"):
        marks_from_dict({"format": "sitwell marks 9", **points})
