"""A file is put in the place of a known one, whatever other programs do at that moment."""

import os
import sys
import threading
import time

import pytest

from sitwell.base import replacing
from sitwell.base.replacing import STALE_LOCK_S, lock_of, replace_known

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="exchanging is Linux's")
OLD, NEW, THEIRS, LATER = b"old", b"new", b"written by another program", b"and once more"


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "a.xmp"
    path.write_bytes(OLD)
    return path


def meanwhile(monkeypatch, name, acts):
    """Run one of ``acts`` after each of the first calls of an inner step."""
    real, waiting = getattr(replacing, name), list(acts)

    def step(*arguments):
        result = real(*arguments)
        if waiting:
            waiting.pop(0)()
        return result

    monkeypatch.setattr(replacing, name, step)


def renamed_over(path, content):
    part = path.with_suffix(".theirs")
    part.write_bytes(content)
    part.replace(path)


def only(path):
    assert [each.name for each in path.parent.iterdir()] == [path.name]
    return path.read_bytes()


def test_what_is_known_is_replaced_and_nothing_else_stays(path):
    path.chmod(0o640)
    assert replace_known(path, OLD, NEW)
    assert only(path) == NEW
    assert path.stat().st_mode & 0o777 == 0o640
    assert not replace_known(path, OLD, b"again")
    assert only(path) == NEW


def test_a_new_file_is_made_and_never_over_one_that_appeared(tmp_path, monkeypatch):
    path = tmp_path / "a.xmp"
    assert replace_known(path, None, NEW)
    assert only(path) == NEW
    path.unlink()
    meanwhile(monkeypatch, "_content", [lambda: path.write_bytes(THEIRS)])
    assert not replace_known(path, None, NEW)
    assert only(path) == THEIRS


@linux
@pytest.mark.parametrize("write", ["write_bytes", "renamed over"])
def test_what_is_written_after_the_look_goes_back_to_its_place(path, monkeypatch, write):
    def act():
        path.write_bytes(THEIRS) if write == "write_bytes" else renamed_over(path, THEIRS)

    meanwhile(monkeypatch, "_content", [act])
    assert not replace_known(path, OLD, NEW)
    assert only(path) == THEIRS


@linux
def test_of_two_that_write_in_between_the_later_stays(path, monkeypatch):
    acts = [lambda: path.write_bytes(THEIRS), lambda: renamed_over(path, LATER)]
    meanwhile(monkeypatch, "_content", acts)
    assert not replace_known(path, OLD, NEW)
    assert only(path) == LATER


@linux
def test_a_program_that_opened_the_file_before_and_writes_late_is_waited_for(path):
    stream = path.open("r+b", buffering=0)

    def late():
        while lock_of(path).exists() is False:
            time.sleep(0.001)
        stream.write(THEIRS)
        stream.close()

    thread = threading.Thread(target=late)
    thread.start()
    assert not replace_known(path, OLD, NEW)
    thread.join()
    assert only(path) == THEIRS


@linux
def test_a_file_taken_away_in_between_is_not_made_anew(path, monkeypatch):
    meanwhile(monkeypatch, "_content", [path.unlink])
    assert not replace_known(path, OLD, NEW)
    assert list(path.parent.iterdir()) == []


def test_where_no_step_exchanges_the_look_comes_last(path, monkeypatch):
    monkeypatch.setattr(replacing, "_rename", lambda *_: False)
    meanwhile(monkeypatch, "_written", [lambda: path.write_bytes(THEIRS)])
    assert not replace_known(path, OLD, NEW)
    assert only(path) == THEIRS
    assert replace_known(path, THEIRS, NEW)
    assert only(path) == NEW
    path.unlink()
    assert replace_known(path, None, NEW)
    assert only(path) == NEW


def test_ours_stand_in_line_and_a_lock_left_by_a_killed_run_ends(path):
    lock = lock_of(path)
    lock.touch()
    done = threading.Event()

    def write():
        replace_known(path, OLD, NEW)
        done.set()

    waiting = threading.Thread(target=write)
    waiting.start()
    assert not done.wait(0.2)
    assert path.read_bytes() == OLD
    lock.unlink()
    waiting.join()
    assert only(path) == NEW

    lock.touch()
    long_ago = time.time() - STALE_LOCK_S - 1
    os.utime(lock, (long_ago, long_ago))
    assert replace_known(path, NEW, OLD)
    assert only(path) == OLD
