"""Files that we wrote outside the records: found by sitting, and listed when they are nobody's."""

from datetime import timedelta

import pytest

from sitwell.store.entries import Sitting, now
from sitwell.store.files import checksum, remember_file, sheets_of
from sitwell.store.opening import open_records
from sitwell.store.places import make_places
from sitwell.store.unrecorded import READINGS_TERM_DAYS, forget_loose, note_loose, sweep_readings


def write(path, text="%PDF-1.7 invented"):
    path.write_text(text)
    return path


def test_a_sheet_belongs_to_the_latest_sitting_before_it(records, fill, tmp_path):
    filled = fill(records)
    remember_file(records, filled.sitter, write(tmp_path / "first.pdf"), "plan")
    remember_file(records, filled.sitter, write(tmp_path / "plan.json"), "plan")
    second = Sitting(sitter_id=filled.sitter.id)
    records.keep(second)
    remember_file(records, filled.sitter, write(tmp_path / "second.pdf"), "plan")
    remember_file(records, filled.sitter, write(tmp_path / "changed.pdf"), "plan")
    write(tmp_path / "changed.pdf", "by hand")
    assert sheets_of(records, filled.sitting) == {"first.pdf": b"%PDF-1.7 invented"}
    assert sheets_of(records, second) == {"second.pdf": b"%PDF-1.7 invented"}


@pytest.fixture
def places(home):
    return make_places(home)


def test_nobodys_files_are_removed_as_far_as_they_are_as_we_wrote_them(places, tmp_path):
    ours, changed, gone = (write(tmp_path / name) for name in ("a.pdf", "b.pdf", "c.pdf"))
    note_loose(places, [ours, changed, gone])
    write(ours, "%PDF-1.7 printed again")
    note_loose(places, [ours])
    write(changed, "by hand")
    gone.unlink()
    removal = forget_loose(places)
    assert removal.removed == (str(ours),)
    assert removal.not_ours == (
        f"{changed} was changed since we wrote it; look at it and delete it.",
    )
    assert not ours.exists()
    assert changed.read_text() == "by hand"
    assert forget_loose(places).removed == ()


def test_what_could_not_be_removed_stays_on_the_list(places, tmp_path, monkeypatch):
    sheet = write(tmp_path / "a.pdf")
    note_loose(places, [sheet])
    with monkeypatch.context() as busy:
        busy.setattr("pathlib.Path.unlink", refuse)
        assert forget_loose(places).left == (
            f"{sheet} could not be removed (in use); close it and try again.",
        )
    assert forget_loose(places).removed == (str(sheet),)


def refuse(*_, **__):
    raise PermissionError(13, "in use")


def test_a_line_that_was_cut_short_costs_no_other(places, tmp_path):
    sheet = write(tmp_path / "a.pdf")
    note_loose(places, [sheet])
    listed = places.home / "loose-files.jsonl"
    listed.write_text(listed.read_text() + '["/nowhere/b.p', encoding="utf-8")
    assert forget_loose(places).removed == (str(sheet),)


def test_the_list_holds_places_and_checksums_and_nobody_else_may_read_it(places, tmp_path):
    sheet = write(tmp_path / "a.pdf")
    note_loose(places, [sheet])
    listed = places.home / "loose-files.jsonl"
    assert listed.read_text() == f'["{sheet}", "{checksum(sheet)}"]\n'
    assert listed.stat().st_mode & 0o077 == 0


def reading(places, name="sort-1.sqlite"):
    places.frames.mkdir(exist_ok=True)
    for suffix in ("", "-wal"):
        (places.frames / f"{name}{suffix}").write_text("a reading")


def test_readings_of_nobody_go_when_nothing_has_touched_them_for_their_term(places):
    reading(places)
    almost = now() + timedelta(days=READINGS_TERM_DAYS) - timedelta(minutes=1)
    assert sweep_readings(places, almost) == 0
    assert sweep_readings(places, almost + timedelta(minutes=2)) == 2
    assert list(places.frames.iterdir()) == []


def test_opening_the_records_sweeps_the_readings_of_nobody(places, home):
    reading(places)
    open_records(home).close()
    assert len(list(places.frames.iterdir())) == 2
    open_records(home, at=now() + timedelta(days=READINGS_TERM_DAYS + 1)).close()
    assert list(places.frames.iterdir()) == []


def test_readings_in_use_are_left_for_the_next_sweep(places, monkeypatch):
    reading(places)
    late = now() + timedelta(days=READINGS_TERM_DAYS + 1)
    with monkeypatch.context() as busy:
        busy.setattr("pathlib.Path.unlink", refuse)
        assert sweep_readings(places, late) == 0
    assert sweep_readings(places, late) == 2
