"""Two processes on one database, and writers that die while they write."""

import random
import sqlite3
import subprocess
import sys
import time
from contextlib import closing

import pytest

from sitwell.base.errors import StoreError
from sitwell.store import entries
from sitwell.store.database import connect_file, connect_url, reading, writing
from sitwell.store.opening import open_records
from sitwell.store.schema import STEPS

WRITER = """
import sys
from pathlib import Path
from sitwell.store import entries
from sitwell.store.opening import open_records
with open_records(Path(sys.argv[1])) as records:
    sitter = records.sitters()[0]
    sitting = records.all(entries.Sitting)[0]
    of = {"sitter_id": sitter.id, "sitting_id": sitting.id}
    for n in range(int(sys.argv[2])):
        head = entries.KeptHead(**of, shape={"n": n})
        frames = [entries.KeptFrame(**of, path=head.id) for _ in range(2)]
        records.keep(head, *frames)
        print(head.id, flush=True)
"""
ADDER = """
import sys
from pathlib import Path
from sitwell.base.errors import StoreError
from sitwell.store.opening import open_records
with open_records(Path(sys.argv[1])) as records:
    won = 0
    for n in range(25):
        records.add_sitter(f"{sys.argv[2]} {n}")
        try:
            records.add_sitter(f"both {n}")
            won += 1
        except StoreError as error:
            assert "is taken in the sitters" in str(error), error
    print(won)
"""


def start(script, *arguments):
    command = [sys.executable, "-W", "error", "-c", script, *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_two_processes_open_a_new_database_and_write_at_once(home):
    both = [start(ADDER, home, name) for name in ("one", "two")]
    outcomes = [process.communicate() for process in both]
    assert [process.returncode for process in both] == [0, 0], outcomes
    assert sum(int(out) for out, _ in outcomes) == 25
    with open_records(home) as records:
        labels = sorted(sitter.label for sitter in records.sitters())
    wanted = [f"{name} {n}" for name in ("one", "two", "both") for n in range(25)]
    assert labels == sorted(wanted)


def test_nothing_committed_is_lost_when_a_writer_is_killed(home, fill):
    with open_records(home) as records:
        filled = fill(records)
    told, chance = [], random.Random(7)
    for _ in range(6):
        with start(WRITER, home, 100_000) as writer:
            told.append(writer.stdout.readline().strip())
            time.sleep(chance.uniform(0, 0.12))
            writer.kill()
            # A line that was cut off is no promise.
            lines = writer.stdout.read().split("\n")[:-1]
            told += lines
    with closing(sqlite3.connect(home / "records.sqlite")) as raw:
        assert raw.execute("pragma integrity_check").fetchone() == ("ok",)
        assert raw.execute("pragma foreign_key_check").fetchall() == []
    with open_records(home) as records:
        heads = {head.id for head in records.all(entries.KeptHead)}
        frames = [frame.path for frame in records.all(entries.KeptFrame)]
    assert len(told) > 12
    assert set(told) <= heads
    alone = filled.held[1].id  # kept by fill() without the writer's two frames
    assert sorted(f for f in frames if f in heads) == sorted([*(heads - {alone})] * 2)


def test_a_log_that_was_cut_anywhere_gives_whole_transactions(home, fill, tmp_path):
    """A power cut may leave any part of the write-ahead log: here it is cut at many places."""
    engine = connect_file(tmp_path / "whole.sqlite")
    with writing(engine) as connection:
        connection.exec_driver_sql("create table pairs (n integer, half integer)")
    with reading(engine):  # keeps the log from being folded in
        for n in range(30):
            with writing(engine) as connection:
                for half in (0, 1):
                    connection.exec_driver_sql(f"insert into pairs values ({n}, {half})")
        log = (tmp_path / "whole.sqlite-wal").read_bytes()
        database = (tmp_path / "whole.sqlite").read_bytes()
    engine.dispose()
    chance, seen = random.Random(3), set()
    for cut in [0, len(log), *(chance.randrange(len(log)) for _ in range(40))]:
        (tmp_path / "cut.sqlite").write_bytes(database)
        (tmp_path / "cut.sqlite-wal").write_bytes(log[:cut])
        with closing(sqlite3.connect(tmp_path / "cut.sqlite")) as raw:
            assert raw.execute("pragma integrity_check").fetchone() == ("ok",)
            tables = raw.execute("select count(*) from sqlite_master").fetchone()[0]
            rows = raw.execute("select n, half from pairs").fetchall() if tables else []
        # A prefix of the transactions, each whole.
        assert rows == [(n, half) for n in range(len(rows) // 2) for half in (0, 1)]
        seen.add(len(rows))
        for left in tmp_path.glob("cut.*"):
            left.unlink()
    assert {0, 60} <= seen
    assert len(seen) > 5


def test_every_connection_has_its_safety_on(tmp_path):
    engine = connect_file(tmp_path / "test.sqlite")
    wanted = {
        "journal_mode": "wal",
        "foreign_keys": 1,
        "secure_delete": 1,
        "synchronous": 2,
        "busy_timeout": 20_000,
        "temp_store": 2,
    }
    with reading(engine) as one, reading(engine) as two:
        for connection in (one, two):
            for pragma, value in wanted.items():
                assert connection.exec_driver_sql(f"pragma {pragma}").scalar() == value
    engine.dispose()


def test_a_busy_database_is_one_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr("sitwell.store.database.BUSY_TIMEOUT_S", 0.1)
    engine = connect_file(tmp_path / "test.sqlite")
    other = connect_file(tmp_path / "test.sqlite")
    with (
        writing(other),
        pytest.raises(StoreError, match="busy in another window; wait a moment and try"),
        writing(engine),
    ):
        raise AssertionError("two writers at once")
    engine.dispose()
    other.dispose()


def test_an_error_never_carries_a_sitters_values(tmp_path):
    engine = connect_file(tmp_path / "test.sqlite")
    STEPS.apply(engine)
    secret = {"i": "id", "a": "t", "b": b"secret nose", "s": "secret sitter"}
    sql = "insert into consents (id, at, body, sitter_id) values (:i, :a, :b, :s)"
    with (
        pytest.raises(StoreError, match="does not fit the others") as caught,
        writing(engine) as connection,
    ):
        connection.exec_driver_sql(sql, secret)
    error = caught.value
    while error:
        assert "secret" not in str(error)
        error = error.__cause__
    engine.dispose()


def test_what_is_no_database_is_one_sentence(home):
    home.mkdir()
    (home / "records.sqlite").write_bytes(b"these are no records" * 100)
    with pytest.raises(StoreError, match=r"The records can't be .*not a database"):
        open_records(home)
    assert (home / "records.sqlite").read_bytes() == b"these are no records" * 100


def test_addresses_that_serve_no_records_are_refused():
    with pytest.raises(StoreError, match="kept in a 'mysql' database; use a file, or a PostgreSQL"):
        connect_url("mysql://somebody@somewhere/records")
    with pytest.raises(StoreError, match="kept in a 'sqlite' database; use a file"):
        connect_url("sqlite://")
    with pytest.raises(StoreError, match="address can't be read; write it as postgresql://"):
        connect_url("no address")


def test_an_sqlite_address_is_a_file(tmp_path):
    engine = connect_url(f"sqlite:///{tmp_path / 'by-address.sqlite'}")
    STEPS.apply(engine)
    engine.dispose()
    assert (tmp_path / "by-address.sqlite").stat().st_size > 0


def test_a_server_that_is_not_there_is_one_sentence(tmp_path):
    pytest.importorskip("pg8000", reason="the PostgreSQL driver is not installed")
    with pytest.raises(StoreError, match=r"can't be used .*; check the disk or the server"):
        open_records(tmp_path, url="postgresql://nobody@127.0.0.1:1/none")


def test_a_missing_driver_is_one_sentence(monkeypatch):
    monkeypatch.setitem(sys.modules, "pg8000", None)
    with pytest.raises(StoreError, match=r"driver is not installed; pip install sitwell\[postgres"):
        connect_url("postgresql://nobody@127.0.0.1/none")


@pytest.mark.parametrize("asked", ["sslmode=maybe", "target=primary"])
def test_what_an_address_asks_for_in_vain_is_said(asked):
    named = asked.partition("=")[2] if asked.startswith("sslmode") else "target"
    with pytest.raises(StoreError, match=f"asks for '{named}', which is not known; after the"):
        connect_url(f"postgresql://nobody@127.0.0.1/none?{asked}")
