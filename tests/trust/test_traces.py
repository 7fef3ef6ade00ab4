"""What the main job leaves behind: a log without a face, nothing in temporary places."""

import json
import re
import subprocess
import sys

import pytest

LABEL = "Zwiebelturm 7731"  # a word that occurs nowhere else
STOP = "(the plan's first set-up)"
# A moment, a level, and the words and whole numbers that are fixed in the code.
LINE = re.compile(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d,\d{3} [A-Z]+( [a-z]+| \d{1,7}|,|:)+")


def holding(word, *folders):
    """The kinds of files whose names or raw bytes hold a word."""
    files = [path for folder in folders for path in folder.rglob("*") if path.is_file()]
    return {path.suffix for path in files if word.encode() in path.read_bytes() + bytes(path)}


@pytest.fixture
def left_behind(photograph, tmp_path, environment):
    """The folders that the whole job used, from the sitter's yes to forgetting."""
    places = {name: tmp_path / name for name in ("home", "temporary", "started-in", "out")}
    places["temporary"].mkdir()
    places["started-in"].mkdir()
    out, stop = places["out"], ""
    for arguments in (
        ["consent", LABEL, "--wishes", "--yes"],
        ["plan", photograph, "--wish", "ears:soften:3", "--sitter", LABEL, "--out", out],
        ["sort", photograph.parent, "--plan", out / "plan.json", "--sitter", LABEL, "--out", out],
        ["plan", tmp_path / f"{LABEL}.jpg", "--sitter", LABEL],  # fails: there is no such file
        ["worked", LABEL, STOP, "--note", LABEL],
        ["backup"],
        ["export", LABEL, "--out", out / "sent.zip"],
        ["forget", LABEL],
    ):
        if arguments[0] == "forget":
            places["before"] = holding(LABEL, places["home"], out)
        done = subprocess.run(
            [sys.executable, "-m", "sitwell", *(str(a) if a != STOP else stop for a in arguments)],
            cwd=places["started-in"],
            env=environment | {"TMPDIR": str(places["temporary"])},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == (1 if f"{LABEL}.jpg" in str(arguments) else 0), done.stderr
        if arguments[0] == "plan" and done.returncode == 0:
            places["plan"] = json.loads((out / "plan.json").read_text())
            stop = places["plan"]["setups"][0]["name"]
    return places


@pytest.mark.slow
def test_the_whole_job_leaves_a_log_without_a_face_and_no_trace_once_forgotten(
    left_behind, photograph
):
    logs = [path for path in (left_behind["home"] / "logs").rglob("*") if path.is_file()]
    text = "".join(path.read_text() for path in logs)
    lines = text.splitlines()
    assert len(lines) > 3
    assert [line for line in lines if not LINE.fullmatch(line)] == []
    for told in (LABEL, "Zwiebelturm", photograph.name, str(photograph.parent), "ears", "soften"):
        assert told not in text
    shape = left_behind["plan"]["head"]["shape"]
    assert shape
    assert not [name for name in shape if name in text]
    # The label was in the records, their backup and the export; the sheets are compressed.
    assert {".sqlite", ".zip"} <= left_behind["before"]
    for word in (LABEL, *shape):
        assert holding(word, left_behind["home"], left_behind["out"]) == set(), word
    assert list(left_behind["out"].iterdir()) == []
    assert photograph.exists()
    assert list(left_behind["temporary"].rglob("*")) == []
    assert list(left_behind["started-in"].rglob("*")) == []


@pytest.mark.parametrize(
    "line", ["2026-03-14 10:15:00,123 INFO read Zwiebelturm", "2026-03-14 10:15:00,123 INFO at 0.4"]
)
def test_a_line_with_a_name_or_a_measure_would_be_seen(line):
    assert not LINE.fullmatch(line)
