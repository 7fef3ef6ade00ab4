"""Forgetting, looked for in the raw bytes of everything we keep."""

import dataclasses
import os
import sqlite3
import struct
import subprocess
import sys
from contextlib import closing
from datetime import timedelta

import pytest
import sqlalchemy as sa

from sitwell.base.errors import ConsentError
from sitwell.store import entries, erase
from sitwell.store.backups import back_up
from sitwell.store.database import reading
from sitwell.store.erase import forget, sweep, withdraw
from sitwell.store.files import remember_file
from sitwell.store.opening import open_records
from sitwell.store.schema import ERASURES, OF_SITTER, query_table
from sitwell.store.transfer import export_sitting

MARKER = b"Zwiebelturm-7731"
NUMBER = 0.7319284650173
# The head's number as text and as raw doubles and floats, either way round.
TRACES = (
    MARKER,
    repr(NUMBER).encode(),
    struct.pack("<d", NUMBER),
    struct.pack(">d", NUMBER),
    struct.pack("<f", NUMBER),
)


def test_forgetting_leaves_no_trace_in_any_file(records, fill, home, traces):
    filled, other = fill(records), fill(records, "somebody else")
    back_up(records)
    export_sitting(records, filled.sitting, sheets={"sheet.pdf": b"%PDF-" + MARKER})
    sheet = records.places.home / "sheet.pdf"
    sheet.write_bytes(MARKER)
    remember_file(records, filled.sitter, sheet, "set sheet")
    forget(records, other.sitter)
    assert len(set(traces(home, *TRACES))) >= 4  # the test can see what it looks for
    report = forget(records, filled.sitter)
    assert report.complete
    assert traces(home, *TRACES) == []


def test_traces_that_another_program_left_in_free_space_go_too(records, fill, home, traces):
    """Any other SQLite program deletes without overwriting; rebuilding the files removes that."""
    filled = fill(records)
    backup = back_up(records)
    for path in (records.places.database, backup):
        with closing(sqlite3.connect(path)) as careless:
            careless.execute("pragma secure_delete = off")
            careless.execute("delete from crops")
            careless.execute("delete from wishes")
            careless.commit()
    report = forget(records, filled.sitter)
    assert report.rows["crops"] == 0
    assert traces(home, *TRACES) == []


def test_forgetting_one_leaves_the_other_whole(records, fill):
    kept_one, gone = fill(records, "stays"), fill(records, "goes")
    backup = back_up(records)
    forget(records, gone.sitter)
    for record in kept_one.held:
        assert records.all(type(record)) == (record,)
    assert records.sitters() == (kept_one.sitter,)
    with closing(sqlite3.connect(backup)) as copy:
        for table in (*OF_SITTER, "sitters"):
            column = "id" if table == "sitters" else "sitter_id"
            rows = copy.execute(f"select distinct {column} from {table}").fetchall()
            assert rows == [(kept_one.sitter.id,)]


def test_the_photographs_are_never_touched(records, fill):
    filled = fill(records)
    before = filled.photograph.stat()
    report = forget(records, filled.sitter)
    after = filled.photograph.stat()
    assert filled.photograph.read_bytes() == b"an invented photograph"
    assert (before.st_mtime_ns, before.st_ino) == (after.st_mtime_ns, after.st_ino)
    assert any(str(filled.photograph.parent) in line for line in report.not_ours)


def test_the_report_says_what_went_and_what_is_not_ours(records, fill):
    filled = fill(records)
    backup = back_up(records)
    export = export_sitting(records, filled.sitting)
    report = forget(records, filled.sitter)
    assert report.rows == {
        "wishes": 1,
        "heads": 1,
        "plans": 1,
        "setups": 1,
        "frames": 1,
        "crops": 1,
        "sittings": 1,
        "consents": 3,
        "sitters": 1,
    }
    text = "\n".join(report.lines())
    for part in (
        f"Erased of {filled.sitter.label} (everything):",
        "1 x heads and level frames",
        "3 x consents",
        f"file {export}",
        "1 cached files",
        f"from the backup {backup}",
        "Not ours to erase: the photographs in",
        "system backups, cloud folders",
    ):
        assert part in text
    assert not export.exists()


def test_a_second_forgetting_finds_nothing(records, fill):
    filled = fill(records)
    forget(records, filled.sitter)
    report = forget(records, filled.sitter)
    assert "nothing was kept" in "\n".join(report.lines())


def test_a_file_that_somebody_changed_is_left_and_named(records, fill, tmp_path):
    filled = fill(records)
    sheet = tmp_path / "sheet.pdf"
    sheet.write_bytes(b"ours")
    remember_file(records, filled.sitter, sheet, "set sheet")
    sheet.write_bytes(b"ours, with the photographer's notes")
    report = forget(records, filled.sitter)
    assert sheet.exists()
    assert any(f"{sheet} was changed since we wrote it" in line for line in report.not_ours)


def test_a_file_that_will_not_go_is_tried_again_at_the_next_opening(
    home, fill, tmp_path, monkeypatch
):
    sheet = tmp_path / "sheet.pdf"
    with open_records(home) as records:
        filled = fill(records)
        sheet.write_bytes(b"ours")
        remember_file(records, filled.sitter, sheet, "set sheet")
        with monkeypatch.context() as patch:
            patch.setattr("pathlib.Path.unlink", _refuse)
            report = forget(records, filled.sitter)
        assert not report.complete
        assert "could not be removed (in use); close it and try again" in report.left[0]
        assert sheet.exists()
    with open_records(home) as records:
        assert records.swept[0].files == (str(sheet),)
        assert not sheet.exists()
    with open_records(home) as records:
        assert records.swept == ()


def test_a_reader_in_another_window_is_named_and_the_log_cleaned_later(
    home, fill, traces, monkeypatch
):
    monkeypatch.setattr("sitwell.store.database.BUSY_TIMEOUT_S", 0.2)
    with open_records(home) as records:
        filled = fill(records)
        with closing(sqlite3.connect(records.places.database)) as reader:
            reader.execute("begin")
            reader.execute("select count(*) from sitters").fetchone()
            report = forget(records, filled.sitter)
            assert not report.complete
            assert "another window is reading; close it and open Sitwell again" in report.left[0]
    with open_records(home) as records:
        assert records.swept[0].complete
        assert traces(home, *TRACES) == []


def test_a_backup_out_of_reach_is_named_and_cleaned_when_it_is_back(home, fill, tmp_path, traces):
    drive, away = tmp_path / "drive", tmp_path / "away"
    drive.mkdir()
    with open_records(home) as records:
        filled = fill(records)
        backup = back_up(records, drive)
        drive.rename(away)
        report = forget(records, filled.sitter)
        assert f"The backup {backup} could not be cleaned (its folder is not there)" in str(
            report.left
        )
        assert traces(away, MARKER)
    away.rename(drive)
    with open_records(home):
        assert traces(drive, *TRACES) == []


def test_a_backup_that_somebody_deleted_is_no_longer_asked_for(records, fill):
    filled = fill(records)
    back_up(records).unlink()
    assert forget(records, filled.sitter).complete


def test_a_backup_that_nobody_noted_is_found_and_cleaned(records, fill, home, traces):
    # as after a power cut between the copy and its note
    filled = fill(records)
    backup = back_up(records)
    backup.rename(backup.with_name("records-stray.sqlite"))
    report = forget(records, filled.sitter)
    assert report.backups == (str(records.places.backups / "records-stray.sqlite"),)
    assert traces(home, *TRACES) == []


def test_an_erasure_cut_short_is_finished_at_the_next_opening(home, fill, traces, monkeypatch):
    with open_records(home) as records:
        filled = fill(records)
        back_up(records)
        with monkeypatch.context() as patch:
            patch.setattr(erase, "_carry_out", _cut_short)
            with pytest.raises(KeyboardInterrupt):
                forget(records, filled.sitter)
        assert traces(home, MARKER)
    with open_records(home) as records:
        assert len(records.swept) == 1
        assert records.sitters() == ()
        assert traces(home, *TRACES) == []


def test_withdrawing_one_purpose_erases_that_and_what_is_mixed_with_it(records, fill):
    filled = fill(records)
    backup = back_up(records)
    report = withdraw(records, filled.sitter, "wishes")
    assert report.rows == {"wishes": 1, "plans": 1}
    assert records.all(entries.KeptHead) == (filled.held[1],)
    assert "Erased of" in report.lines()[0]
    assert "(wishes)" in report.lines()[0]
    with closing(sqlite3.connect(backup)) as copy:
        assert copy.execute("select count(*) from wishes").fetchone() == (0,)
        assert copy.execute("select count(*) from heads").fetchone() == (1,)
    withdrawn = [c.purpose for c in records.all(entries.Consent) if c.withdrawn_at]
    assert withdrawn == ["wishes"]
    with pytest.raises(ConsentError, match="no consent in force for wishes"):
        records.keep(filled.held[0])


def test_withdrawing_what_nobody_asks_for_is_refused(records, fill):
    with pytest.raises(ConsentError, match="'photos' is not known; name measurements, wishes"):
        withdraw(records, fill(records).sitter, "photos")


def test_the_sweep_erases_at_the_end_of_each_term(records, fill, yes):
    filled = fill(records)
    longer = yes(filled.sitter, "measurements")
    longer = dataclasses.replace(longer, keep_until=longer.keep_until + timedelta(days=300))
    records.keep(longer)
    year = entries.now() + timedelta(days=365)
    assert sweep(records, at=year) == ()
    reports = sweep(records, at=year + timedelta(days=1))
    assert sorted(report.purpose for report in reports) == ["crops", "wishes"]
    assert records.all(entries.KeptHead) == (filled.held[1],)
    (report,) = sweep(records, at=year + timedelta(days=302))
    assert report.purpose == ""
    assert records.sitters() == ()


def test_a_sweep_that_was_begun_before_a_yes_leaves_what_is_kept_under_it(records, fill):
    before = entries.now()
    filled = fill(records)
    assert sweep(records, at=before) == ()
    assert records.agreed(filled.sitter) == set(entries.PURPOSES)
    assert records.of_sitting(entries.KeptHead, filled.sitting)


def test_the_sweep_leaves_one_who_was_never_asked(records):
    sitter = records.add_sitter("not asked yet")
    assert sweep(records, at=entries.now() + timedelta(days=5000)) == ()
    assert records.sitters() == (sitter,)


def test_opening_sweeps(home, fill, traces):
    with open_records(home) as records:
        fill(records)
    with open_records(home, at=entries.now() + timedelta(days=366)) as records:
        assert [report.purpose for report in records.swept] == [""]
        assert traces(home, *TRACES) == []


def test_what_stays_of_a_forgotten_sitter_is_a_random_number(records, fill):
    filled = fill(records)
    forget(records, filled.sitter)
    with reading(records.engine) as connection:
        rows = connection.execute(sa.select(ERASURES)).mappings().all()
        left = [
            table
            for table in OF_SITTER
            if connection.execute(sa.select(query_table(table).c.id)).first()
        ]
    assert left == []
    assert [(r["sitter_id"], r["purpose"], r["done"]) for r in rows] == [(filled.sitter.id, "", 1)]


FORGETTER = """
import sys
from pathlib import Path
from sitwell.store.opening import open_records
from sitwell.store.erase import forget
with open_records(Path(sys.argv[1])) as records:
    print("open", flush=True)
    forget(records, records.sitters()[0])
"""


@pytest.mark.parametrize("delay_s", [0.0, 0.004, 0.012, 0.03])
def test_killing_a_forgetting_leaves_all_or_nothing_in_the_end(home, fill, traces, delay_s):
    with open_records(home) as records:
        fill(records)
        back_up(records)
    command = [sys.executable, "-c", FORGETTER, str(home)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as child:
        child.stdout.readline()
        try:
            child.wait(delay_s)
        except subprocess.TimeoutExpired:
            child.kill()
    for left in home.rglob(".sitwell-part-*"):
        os.utime(left, (0, 0))  # as if the next opening came a day later
    with open_records(home) as records:
        if sitters := records.sitters():  # killed before the intention was written down
            assert len(records.all(entries.KeptHead, sitters[0])) == 1
            forget(records, sitters[0])
        assert traces(home, *TRACES) == []


def _refuse(*_, **__):
    raise PermissionError(13, "in use")


def _cut_short(*_, **__):
    raise KeyboardInterrupt
