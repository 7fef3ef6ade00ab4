import sqlite3
import threading
from contextlib import closing

import pytest

from sitwell.base.errors import SealError, StoreError
from sitwell.store import entries
from sitwell.store.backups import back_up
from sitwell.store.database import connect_file, writing
from sitwell.store.erase import forget
from sitwell.store.opening import open_records
from sitwell.store.restore import restore
from sitwell.store.schema import STEPS, query_table
from sitwell.store.sealing import set_passphrase

PHRASE = "river lamp seven onions"
CHEAP = 2**10


def test_a_backup_is_one_whole_file(records, fill):
    fill(records)
    backup = back_up(records)
    assert [entry.name for entry in records.places.backups.iterdir()] == [backup.name]
    with closing(sqlite3.connect(backup)) as copy:
        assert copy.execute("pragma integrity_check").fetchone() == ("ok",)
        assert copy.execute("select count(*) from heads").fetchone() == (1,)


def test_a_backup_may_be_made_while_others_write(records, fill):
    filled = fill(records)
    stop = threading.Event()
    pairs = []

    def write():
        while not stop.is_set():
            of = {"sitter_id": filled.sitter.id, "sitting_id": filled.sitting.id}
            pair = [entries.KeptHead(**of, shape={}), entries.KeptFrame(**of, path="invented.jpg")]
            records.keep(*pair)
            pairs.append(pair)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        backups = [back_up(records) for _ in range(3)]
    finally:
        stop.set()
        writer.join()
    assert len(pairs) > 3
    for backup in backups:
        with closing(sqlite3.connect(backup)) as copy:
            heads, frames = (
                copy.execute(f"select count(*) from {table}").fetchone()[0]
                for table in ("heads", "frames")
            )
            assert heads == frames
            assert copy.execute("pragma integrity_check").fetchone() == ("ok",)


def test_restoring_brings_back_what_was_there(home, fill):
    with open_records(home) as records:
        filled = fill(records)
        backup = back_up(records)
        records.keep(entries.KeptKit(name="later", content={}))
        before = restore(records, backup)
    with open_records(home) as records:
        assert records.all(entries.KeptKit) == ()
        assert records.sitters() == (filled.sitter,)
        restore(records, before)
    with open_records(home) as records:
        assert [kit.name for kit in records.all(entries.KeptKit)] == ["later"]


def test_restoring_a_copy_from_a_drawer_does_not_bring_back_a_forgotten_sitter(
    home, fill, tmp_path, traces
):
    drawer = tmp_path / "drawer.sqlite"
    with open_records(home) as records:
        stays, goes = fill(records, "stays"), fill(records, "goes for good")
        drawer.write_bytes(back_up(records).read_bytes())
        forget(records, goes.sitter)
        restore(records, drawer)
    with open_records(home) as records:
        assert records.sitters() == (stays.sitter,)
        assert traces(home, b"goes for good") == []
    assert b"goes for good" in drawer.read_bytes()  # not ours: the photographer copied it


def test_restoring_a_plain_backup_into_sealed_records_seals_it(home, fill, tmp_path, traces):
    drawer = tmp_path / "drawer.sqlite"
    with open_records(home) as records:
        filled = fill(records, "a readable label")
        drawer.write_bytes(back_up(records).read_bytes())
        set_passphrase(records, PHRASE, cost=CHEAP)
        restore(records, drawer)
    with open_records(home, passphrase=PHRASE) as records:
        assert records.sitters() == (filled.sitter,)
    assert traces(home, b"a readable label") == []


def test_restoring_a_sealed_backup_on_a_new_machine(home, fill, tmp_path):
    drawer = tmp_path / "drawer.sqlite"
    with open_records(home) as records:
        filled = fill(records)
        set_passphrase(records, PHRASE, cost=CHEAP)
        drawer.write_bytes(back_up(records).read_bytes())
    with open_records(tmp_path / "new") as records:
        with pytest.raises(SealError, match="These records are sealed; give the passphrase"):
            restore(records, drawer)
        with pytest.raises(SealError, match="does not open these records"):
            restore(records, drawer, passphrase="not these words at all")
        restore(records, drawer, passphrase=PHRASE)
    with open_records(tmp_path / "new", passphrase=PHRASE) as records:
        assert records.sitters() == (filled.sitter,)


def test_restoring_an_earlier_schema_brings_it_up(home, tmp_path):
    old = tmp_path / "old.sqlite"
    engine = connect_file(old, wal=False)
    STEPS.apply(engine, until=STEPS.names()[0])
    sitter = entries.Sitter(label="from long ago")
    with open_records(tmp_path / "other") as other, writing(engine) as connection:
        connection.execute(query_table("sitters").insert().values(other._row(sitter)))
    engine.dispose()
    with open_records(home) as records:
        restore(records, old)
    with open_records(home) as records:
        assert records.sitters() == (sitter,)


def test_what_is_no_backup_changes_nothing(home, fill, tmp_path):
    bad = tmp_path / "bad.sqlite"
    bad.write_bytes(b"SQLite format 3\x00" + b"nonsense" * 500)
    with open_records(home) as records:
        filled = fill(records)
        with pytest.raises(StoreError, match=r"can't be copied .* use an earlier backup"):
            restore(records, bad)
        with pytest.raises(StoreError, match=r"no backup at .*missing.sqlite; check the name"):
            restore(records, tmp_path / "missing.sqlite")
        assert records.sitters() == (filled.sitter,)


def test_a_damaged_backup_does_not_stop_a_forgetting(records, fill, home, traces):
    filled = fill(records, "a readable label")
    backup = back_up(records)
    backup.write_bytes(backup.read_bytes()[:5000])
    report = forget(records, filled.sitter)
    assert records.sitters() == ()
    assert any(f"The backup {backup} could not be cleaned" in line for line in report.left)
    backup.unlink()
    assert traces(home, b"a readable label") == []
