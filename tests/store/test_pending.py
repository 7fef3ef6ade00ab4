"""What could not be erased is named, listed and tried again; nothing outside is ever touched."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sitwell.store.opening import open_records
from sitwell.store.pending import LIST, Gone, Pending, erase_tree
from sitwell.store.places import make_places
from sitwell.store.unrecorded import forget_loose, note_loose
from sitwell.ui.records_door import Door


@pytest.fixture
def busy(monkeypatch):
    """Files of a name that another program holds on to, until it is called."""
    real = Path.unlink
    held = {"busy.bin"}

    def unlink(path, missing_ok=False):
        if path.name in held:
            raise PermissionError(13, "in use")
        return real(path, missing_ok=missing_ok)

    monkeypatch.setattr("pathlib.Path.unlink", unlink)
    return held.clear


def tree(folder, *names):
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")


def test_a_folder_goes_with_all_in_it_and_links_are_not_followed(tmp_path):
    tree(tmp_path, "ours/a/b/c.bin", "ours/d.bin", "theirs/e.bin")
    (tmp_path / "ours" / "link").symlink_to(tmp_path / "theirs")
    assert erase_tree(tmp_path / "ours") == Gone(files=3)
    assert not (tmp_path / "ours").exists()
    assert (tmp_path / "theirs" / "e.bin").exists()
    assert erase_tree(tmp_path / "missing") == Gone()


def test_what_would_not_go_is_named_listed_and_goes_later(tmp_path, busy):
    tree(tmp_path, "one/busy.bin", "one/free.bin", "two/free.bin")
    pending = Pending(tmp_path)
    gone = pending.erase(["one", "two"])
    stays = tmp_path / "one" / "busy.bin"
    assert gone.files == 2
    assert gone.left == (f"{stays} could not be removed (in use); close it and try again.",)
    assert Pending(tmp_path).names() == ("one",)
    assert "is tried at each start" in pending.sentences()[0]
    assert pending.retry().left
    busy()
    assert pending.retry() == Gone(files=1)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "listed", ["{", "7", json.dumps(["../victim", "/", "", 3, "sub/../../victim"])]
)
def test_a_list_that_somebody_altered_leads_nowhere(tmp_path, listed):
    home = tmp_path / "home"
    tree(tmp_path, "victim/a.bin", "home/b.bin")
    (home / LIST).write_text(listed)
    assert Pending(home).retry() == Gone()
    assert (tmp_path / "victim" / "a.bin").exists()
    assert (home / "b.bin").exists()


NOT_ROOT = """
import os, sys
from pathlib import Path
from sitwell.base.words import tr
from sitwell.store.pending import erase_tree
tr("all that is imported must be before the right to read it goes")
os.setuid(65534)
print(erase_tree(Path(sys.argv[1])).left[0])
"""


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="gives up being root")
def test_a_folder_that_cannot_be_looked_into_is_never_counted_as_gone(tmp_path):
    for folder in (tmp_path, *tmp_path.parents[:3]):
        folder.chmod(0o755)
    ours = tmp_path / "ours"
    tree(ours, "shut/a.bin")
    (ours / "shut").chmod(0)
    os.chown(ours, 65534, -1)
    done = subprocess.run(
        [sys.executable, "-c", NOT_ROOT, str(ours)], capture_output=True, text=True, check=False
    )
    assert "could not be removed" in done.stdout, done.stderr
    assert ours.exists()


def test_a_cache_that_would_not_go_keeps_the_erasure_open(home, fill, busy):
    with open_records(home) as records:
        filled = fill(records)
        cached = records.places.cache / filled.sitter.id / "busy.bin"
        cached.write_bytes(b"x")
        from sitwell.store.erase import forget

        report = forget(records, filled.sitter)
        assert not report.complete
        assert f"Still there: {cached} could not be removed (in use)" in "\n".join(report.lines())
    with open_records(home) as records:
        assert not records.swept[0].complete
    busy()
    with open_records(home) as records:
        assert records.swept[0].complete
    assert not cached.parent.exists()


def test_readings_and_lists_of_nobody_are_tried_again_at_the_next_start(home, tmp_path, busy):
    places = make_places(home)
    tree(home, "frames/busy.bin", "frames/free.bin")
    tree(tmp_path, "out/busy.bin", "out/other.bin")
    note_loose(places, [tmp_path / "out" / "busy.bin"])
    report = "\n".join(Door(home=home).forget_loose())
    assert "Erased 1 files with readings of frames." in report
    assert report.count("Still there: ") == 2
    note_loose(places, [tmp_path / "out" / "other.bin"])
    busy()
    open_records(home).close()
    assert list(places.frames.iterdir()) == []
    # only what was asked for goes by itself
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["other.bin"]
    assert forget_loose(places).removed == (str(tmp_path / "out" / "other.bin"),)
