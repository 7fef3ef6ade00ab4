"""The public names, as the page for scripts shows them: its example is run as it stands."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import sitwell
from builders.pictures import plain_frames
from sitwell import flow
from sitwell.base.errors import SitwellError
from sitwell.head.surface import build_head
from sitwell.search.planner import make_group_plan

PAGE = Path(__file__).parent.parent / "docs" / "python.md"


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    """The page's code, run in a folder with an invented sitter's frames; gives its names."""
    folder = tmp_path_factory.mktemp("notebook")
    frames, _ = plain_frames.write_frames(
        build_head(plain_frames.SHAPE), plain_frames.frames_to_take(), folder / "taken"
    )
    for frame, name in zip(frames, ("level", "own-left", "own-right"), strict=True):
        frame.rename(folder / f"{name}.jpg")
    code = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.S)
    names = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setattr(
            flow,
            "make_group_plan",
            lambda *a, **k: make_group_plan(*a, **(k | {"evaluations": 80})),
        )
        exec("\n".join(code), names)
    return names | {"folder": folder}


def test_the_example_gives_what_the_page_says(example):
    assert example["sitters"][0].head.vertices_mm.shape[1] == 3
    assert {"turn_deg", "distance_mm", "gain_ear_out"} & set(example["table"][0])
    assert set(example["turns_deg"]) == {p.name for p in example["made"].found.setups}
    written = [example["folder"] / path for path in example["files"]]
    assert len(written) == 1 + 2 * len(example["turns_deg"])
    assert all(path.is_file() for path in written)
    assert example["before"] >= 0.0
    assert example["pixels"].shape == (400, 320, 3)
    assert {"setup", "sitter"} <= set(example["table"][0])
    for row in example["table"]:
        assert all(isinstance(value, float | str) for value in row.values())


def test_a_folder_is_watched_and_sorted_against_the_plan(example, tmp_path):
    for frame in example["folder"].glob("*.jpg"):
        shutil.copy(frame, tmp_path)
    assert len(list(tmp_path.iterdir())) == 3
    checked = next(iter(sitwell.watch_folder(tmp_path, example["made"])))
    assert not checked.problem
    bursts = list(sitwell.sort_frames(tmp_path, example["made"], workers=1))
    assert sum(len(burst.frames) for burst in bursts) == 3


def test_every_public_name_is_there_and_documented():
    text = PAGE.read_text(encoding="utf-8")
    for name in sitwell.__all__:
        assert getattr(sitwell, name).__doc__, name
    shown = set(re.findall(r"sitwell\.(\w+)", text))
    assert shown <= set(sitwell.__all__)
    assert set(dir(sitwell)) == {*sitwell.__all__, "__version__"}
    with pytest.raises(AttributeError, match="has no attribute 'pose'"):
        sitwell.pose  # noqa: B018


def test_importing_costs_next_to_nothing():
    code = "import sys, sitwell; print([m for m in sys.modules if m.startswith('sitwell.')])"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert loaded.stdout.strip() == "[]"


def test_a_label_that_nobody_has_is_refused(tmp_path, monkeypatch):
    monkeypatch.setenv("SITWELL_HOME", str(tmp_path))
    with pytest.raises(SitwellError, match="Nobody"):
        sitwell.read(sitwell.brief_of({"sitter": [{"record": "Nobody"}]}))
