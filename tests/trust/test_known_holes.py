"""The question for known holes: a hole fails, a silent index is said, nothing is made up."""

import json
import subprocess

import pytest

from builders.packaging import known_holes

SAFE = {"name": "safe", "version": "1.0", "vulns": []}
HOLED = {
    "name": "holed",
    "version": "2.0",
    "vulns": [{"id": "PYSEC-0000-1", "fix_versions": ["2.1"], "aliases": [], "description": "."}],
}
UNKNOWN = {"name": "other", "skip_reason": "Dependency not found"}


def answer(*packages):
    return json.dumps({"dependencies": packages, "fixes": []})


def test_a_hole_is_told_and_counted():
    lines, known = known_holes.told(answer(SAFE, HOLED, UNKNOWN), {})
    assert known == 1
    assert lines == [
        "holed 2.0: PYSEC-0000-1 (mended in 2.1)",
        "Known holes: 1 in the 2 of 3 pinned releases that the index tells of.",
    ]


def test_a_harmless_one_is_told_with_its_reason_and_does_not_count():
    lines, known = known_holes.told(answer(HOLED), {"PYSEC-0000-1": "not used"})
    assert known == 0
    assert lines[0] == "holed 2.0: PYSEC-0000-1 (not used)"


@pytest.mark.parametrize(
    ("stdout", "stderr", "code", "says"),
    [
        (answer(SAFE), "", 0, "Known holes: 0 in the 1 of 1"),
        (answer(HOLED), "", 1, "holed 2.0: PYSEC-0000-1"),
        (answer(UNKNOWN), "", 0, "Known holes: 0 in the 0 of 1"),
        ("", "x\nConnectionError: no route", 0, "not asked for: ConnectionError: no route"),
        ("", "", 0, "not asked for: pip-audit said nothing"),
    ],
)
def test_only_a_known_hole_fails(monkeypatch, capsys, stdout, stderr, code, says):
    def run(command, **_):
        return subprocess.CompletedProcess(command, 1, stdout, stderr)

    monkeypatch.setattr(known_holes.subprocess, "run", run)
    with pytest.raises(SystemExit) as ended:
        known_holes.main()
    assert ended.value.code == code
    assert says in capsys.readouterr().out


def test_an_index_that_does_not_answer_is_said(monkeypatch):
    def wait(command, timeout, **_):
        raise subprocess.TimeoutExpired(command, timeout)

    monkeypatch.setattr(known_holes.subprocess, "run", wait)
    assert known_holes.asked() == (
        "",
        "Known holes were not asked for: no answer within 300 s.",
    )


def test_all_that_is_pinned_is_asked_for(monkeypatch):
    asked = []

    def run(command, **_):
        asked.extend(command)
        return subprocess.CompletedProcess(command, 0, answer(SAFE), "")

    monkeypatch.setattr(known_holes.subprocess, "run", run)
    known_holes.asked()
    pinned = sorted((known_holes.ROOT / "requirements").glob("*.txt"))
    assert len(pinned) == 2
    assert {str(path) for path in pinned} <= set(asked)
