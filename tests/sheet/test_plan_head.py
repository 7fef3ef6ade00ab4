"""What a head is read from: files by name, nothing of the face, and read again when needed."""

import json

import numpy as np
import pytest

from builders.pictures import plain_frames
from sitwell.base.errors import PlanFileError, UsageError
from sitwell.brief.request import SitterBrief
from sitwell.head.surface import build_head
from sitwell.scene.sitter import read_sitter
from sitwell.sheet.plan_file import load_plan_and_head, save_faceless_plan, source_of

from .test_plan_file import a_plan


@pytest.fixture(scope="module")
def frame(tmp_path_factory):
    folder = tmp_path_factory.mktemp("source")
    paths, _ = plain_frames.write_frames(
        build_head(plain_frames.SHAPE), plain_frames.frames_to_take()[:1], folder
    )
    return paths[0]


def test_a_source_survives_the_file_but_for_a_measured_pupil_distance(frame, tmp_path):
    told = {"frames": (frame,), "level": frame, "face": 1, "focal_equivalent_mm": 85.0,
            "in_the_way": ("beard",)}  # fmt: skip
    measured = SitterBrief(**told, pupils_mm=61.5, marks={"a.jpg": {"chin": [1171, 904]}})
    path = save_faceless_plan(tmp_path / "plan.json", a_plan(), measured)
    assert source_of(json.loads(path.read_text())["source"]) == SitterBrief(**told)
    assert "61.5" not in path.read_text()
    assert "1171" not in path.read_text()


def test_a_file_of_an_older_version_says_where_the_head_is_from(frame):
    older = {"photos": [str(frame)], "focal_35_mm": 85.0, "face": 1}
    wanted = SitterBrief(frames=(frame,), focal_equivalent_mm=85.0, face=1)
    assert source_of(older) == wanted


def test_a_plan_without_a_yes_holds_no_measure_and_the_head_is_read_again(frame, tmp_path):
    source = SitterBrief(frames=(frame,))
    path = save_faceless_plan(tmp_path / "plan.json", a_plan(value=0.7319284650173), source)
    text = path.read_text()
    assert "0.73192" not in text
    content = json.loads(text)
    assert "head" not in content
    assert content["baseline"]["measures"] == {}
    for planned in content["setups"]:
        assert planned["guards"] == []
        assert all(name.startswith("glare_") for name in planned["measures"])
        assert all(gain["was"] is gain["becomes"] is None for gain in planned["gains"])
        assert planned["setup"]
        assert planned["gains"]
    plan, head = load_plan_and_head(path)
    assert [p.setup for p in plan.setups] == [p.setup for p in a_plan().setups]
    np.testing.assert_array_equal(head.vertices_mm, read_sitter(source).head.vertices_mm)


def test_a_frame_that_has_gone_is_named(frame, tmp_path):
    copy = tmp_path / "copy.jpg"
    copy.write_bytes(frame.read_bytes())
    path = save_faceless_plan(tmp_path / "plan.json", a_plan(), SitterBrief(frames=(copy,)))
    copy.unlink()
    with pytest.raises(PlanFileError, match=r"read from '.*copy.jpg', which is not there any more"):
        load_plan_and_head(path)


@pytest.mark.parametrize(
    "content",
    [{"photos": 3}, {"photos": [1]}, {"photos": ["a\0"]}, {"photos": ["a"], "face": "x"}, []],
)
def test_a_damaged_source_is_one_sentence(content):
    with pytest.raises(
        PlanFileError, match=r"read from .*(damaged near|not there any more).*plan an"
    ):
        source_of(content)


def test_a_source_of_nothing_gives_no_head(tmp_path):
    with pytest.raises(PlanFileError, match="is not there any more"):
        source_of({})
    path = save_faceless_plan(tmp_path / "plan.json", a_plan(), None)
    assert load_plan_and_head(path)[1] is None


def test_a_level_frame_is_one_of_the_photographs(frame):
    with pytest.raises(UsageError, match=r"'other.jpg' is not among the photographs; name one of"):
        read_sitter(SitterBrief(frames=(frame,), level=frame.with_name("other.jpg")))
