"""The same records on a PostgreSQL server: one that is started here, where its programs are.

SITWELL_TEST_POSTGRES may name an empty database instead; its tables are dropped.
"""

import dataclasses
import os
import shutil
import socket
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import sqlalchemy as sa

from sitwell.base.errors import ConsentError, StoreError
from sitwell.store import entries
from sitwell.store.backups import back_up
from sitwell.store.database import connect_url, writing
from sitwell.store.erase import forget, withdraw
from sitwell.store.opening import open_records
from sitwell.store.restore import restore
from sitwell.store.schema import TABLES, query_table
from sitwell.store.sealing import set_passphrase
from sitwell.store.transfer import export_sitting, import_sitting

GIVEN = os.environ.get("SITWELL_TEST_POSTGRES", "")


def program(name):
    """Where a program of the server lies; Debian keeps them off the path."""
    beside = sorted(map(str, Path("/usr/lib/postgresql").glob(f"*/bin/{name}")))
    return shutil.which(name) or (beside[-1] if beside else "")


def as_its_user(*command):
    # The server refuses to run as root; Debian's package brings a user for it.
    who = {"user": "postgres", "group": "postgres"} if os.geteuid() == 0 else {}
    done = subprocess.run(
        list(map(str, command)), cwd="/", stdout=subprocess.DEVNULL, check=False, **who
    )
    assert done.returncode == 0, command


@pytest.fixture(scope="module")
def server():
    """The address of an empty database, on a server of its own that goes when the tests end."""
    if GIVEN:
        yield GIVEN
        return
    if not program("initdb"):
        pytest.skip("PostgreSQL is not installed, and SITWELL_TEST_POSTGRES names no database")
    pytest.importorskip("pg8000", reason="the PostgreSQL driver is not installed")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    place = Path(tempfile.mkdtemp(prefix="sitwell-postgres-"))
    try:
        if os.geteuid() == 0:
            shutil.chown(place, "postgres", "postgres")
        data = place / "data"
        as_its_user(program("initdb"), "-D", data, "-U", "sitwell", "--no-sync")
        control = (program("pg_ctl"), "-D", data, "-w", "-l", place / "log")
        options = f"-p {port} -k {place} -c listen_addresses=127.0.0.1 -c fsync=off"
        as_its_user(*control, "-o", options, "start")
        try:
            yield f"postgresql://sitwell@127.0.0.1:{port}/postgres"
        finally:
            as_its_user(*control, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(place)


@pytest.fixture
def url(server):
    engine = connect_url(server)
    with engine.begin() as connection:
        for name in sa.inspect(connection).get_table_names():
            connection.execute(sa.text(f"drop table {name} cascade"))
    engine.dispose()
    return server


@pytest.fixture
def records(home, url):
    with open_records(home, url=url) as opened:
        yield opened


def test_everything_comes_back_equal(records, fill):
    filled = fill(records)
    for record in filled.held:
        assert records.of_sitting(type(record), filled.sitting) == (record,)
    assert records.returning(filled.sitter).head == filled.held[1]
    assert records.sitter(filled.sitter.label.upper()) == filled.sitter


def test_rules_hold_there_too(records, fill):
    filled = fill(records)
    with pytest.raises(StoreError, match="is taken in the sitters"):
        records.add_sitter(filled.sitter.label)
    with pytest.raises(StoreError, match="does not fit the others"):
        records.keep(dataclasses.replace(filled.held[1], id=entries.new_id(), sitting_id="x"))
    withdraw(records, filled.sitter, "crops")
    with pytest.raises(ConsentError, match="no consent in force for crops"):
        records.keep(filled.held[5])


def test_forgetting_leaves_no_row_and_says_what_the_server_may_hold(records, fill, home, traces):
    filled = fill(records)
    export_sitting(records, filled.sitting)
    report = forget(records, filled.sitter)
    assert report.complete
    assert any("the database server's own backups and logs" in line for line in report.not_ours)
    with records.engine.connect() as connection:
        for name in TABLES:
            assert connection.execute(sa.select(query_table(name).c.id)).all() == []
    assert traces(home, b"Zwiebelturm-7731") == []


def test_records_are_sealed_there_too(home, url, fill):
    with open_records(home, url=url) as records:
        filled = fill(records)
        set_passphrase(records, "river lamp seven onions", cost=2**10)
        with records.engine.connect() as connection:
            for name in TABLES:
                for body in connection.execute(sa.select(query_table(name).c.body)).scalars():
                    assert b"Zwiebelturm" not in body
    with open_records(home, url=url, passphrase="river lamp seven onions") as records:
        assert records.all(entries.KeptHead) == (filled.held[1],)


def test_a_sitting_moves_between_a_server_and_a_file(records, fill, tmp_path):
    filled = fill(records)
    path = export_sitting(records, filled.sitting)
    with open_records(tmp_path / "file") as in_file:
        import_sitting(in_file, path)
        assert in_file.all(entries.KeptPlan) == (filled.held[2],)


def test_the_servers_own_backups_are_not_ours(records, tmp_path):
    with pytest.raises(StoreError, match="PostgreSQL server; back them up with pg_dump"):
        back_up(records)
    with pytest.raises(StoreError, match="PostgreSQL server; restore them with pg_restore"):
        restore(records, tmp_path / "any.sqlite")


def test_several_may_open_new_records_and_write_at_once(tmp_path, url):
    def add(worker):
        with open_records(tmp_path / str(worker), url=url) as records:
            refusals = []
            for n in range(10):
                try:
                    records.add_sitter(f"both {n}")
                except StoreError as error:
                    refusals.append(str(error))
            return refusals

    with ThreadPoolExecutor(4) as pool:
        refusals = [sentence for each in pool.map(add, range(4)) for sentence in each]
    assert len(refusals) == 30
    assert all("is taken in the sitters" in sentence for sentence in refusals)


def test_what_the_server_refuses_is_said_in_one_sentence(tmp_path, url):
    nobody = sa.make_url(url).set(username="nobody").render_as_string(hide_password=False)
    with pytest.raises(StoreError, match=r'can\'t be used \(role "nobody" .*check the disk or the'):
        open_records(tmp_path / "a", url=nobody)
    nowhere = sa.make_url(url).set(database="none").render_as_string(hide_password=False)
    with pytest.raises(StoreError, match=r'can\'t be used \(database "none" does not exist\)'):
        open_records(tmp_path / "b", url=nowhere)
    with pytest.raises(StoreError, match=r"can't be used \(Server refuses SSL\)"):
        open_records(tmp_path / "c", url=f"{url}?sslmode=require")


def test_no_refusal_carries_a_sitters_values(records, fill):
    filled = fill(records)
    with pytest.raises(StoreError) as refused, writing(records.engine) as connection:
        connection.execute(sa.text("insert into sitters (id) values ('Zwiebelturm')"))
    assert "Zwiebelturm" not in str(refused.value)
    assert records.sitters() == (filled.sitter,)
