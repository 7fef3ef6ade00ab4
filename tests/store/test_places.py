import os
import stat
import sys
import time
from pathlib import Path

import platformdirs
import pytest

from sitwell.store.backups import back_up
from sitwell.store.opening import open_records
from sitwell.store.places import default_home, make_places, make_privately
from sitwell.store.transfer import export_sitting

needs_modes = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@needs_modes
def test_nobody_else_on_the_machine_can_read_anything_of_ours(home, fill):
    old = os.umask(0)  # the most careless setting there is
    try:
        with open_records(home) as records:
            filled = fill(records)
            back_up(records)
            export_sitting(records, filled.sitting)
            folders = records.places.folders()
            assert [mode(folder) for folder in folders] == [0o700] * len(folders)
            ours = [home / "records.sqlite", home / "records.sqlite-wal"]
            ours += [*(home / "backups").iterdir(), *(home / "exports").iterdir()]
            ours += (home / "logs").iterdir()
            assert len(ours) == 5
            assert {mode(path) for path in ours} == {0o600}
    finally:
        os.umask(old)


@needs_modes
def test_a_shared_folder_keeps_its_mode_and_our_files_in_it_are_closed(home):
    home.mkdir()
    home.chmod(0o755)
    with open_records(home):
        assert mode(home) == 0o755
        assert mode(home / "backups") == 0o700
        assert mode(home / "records.sqlite") == 0o600


def test_the_home_can_be_named(monkeypatch, tmp_path):
    monkeypatch.setenv("SITWELL_HOME", str(tmp_path / "elsewhere"))
    assert default_home() == tmp_path / "elsewhere"
    monkeypatch.setenv("SITWELL_HOME", "~/somewhere")
    assert default_home() == Path.home() / "somewhere"
    monkeypatch.setenv("SITWELL_HOME", " ")
    assert default_home() == platformdirs.user_data_path("sitwell", appauthor=False)


def test_a_private_file_is_whole_or_not_there(tmp_path):
    target = tmp_path / "file.bin"
    target.write_bytes(b"old")

    def fail(temporary):
        temporary.write_bytes(b"half")
        raise RuntimeError("cut short")

    with pytest.raises(RuntimeError, match="cut short"):
        make_privately(target, fail)
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_what_a_cut_short_write_left_is_cleared_after_an_hour(home):
    places = make_places(home)
    old, fresh = (places.backups / f".sitwell-part-{name}.sqlite" for name in ("old", "fresh"))
    folder = places.home / ".sitwell-part-folder"
    folder.mkdir()
    (folder / "records.sqlite").write_bytes(b"x")
    mine = places.backups / "mine.txt"
    for path in (old, fresh, mine):
        path.write_bytes(b"x")
    for path in (old, folder, mine):
        os.utime(path, (time.time() - 4000,) * 2)
    make_places(home)
    assert not old.exists()
    assert not folder.exists()
    assert fresh.exists()
    assert mine.exists()
