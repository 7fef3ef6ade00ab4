"""The connection: SQLite with its safety on, or PostgreSQL by URL, and nothing above it knows.

SQLite: write-ahead log (readers never wait for the writer), every commit flushed to the disk,
foreign keys checked, freed pages overwritten with zeros (``secure_delete``), no temporary files
on the disk, and twenty seconds of patience with another window that is writing.
"""

import sqlite3
import time
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, cast

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import (
    ArgumentError,
    IntegrityError,
    InterfaceError,
    OperationalError,
    SQLAlchemyError,
)

from sitwell.base.errors import StoreError
from sitwell.base.words import tr
from sitwell.store.places import touch_privately
from sitwell.store.server import connect_server, reason, server_state

BUSY_TIMEOUT_S = 20.0
BUSY_PAUSE_S = 0.05
_BEGIN = "sitwell_begin"  # how this connection's transaction starts
_PRAGMAS = (
    "foreign_keys = ON",
    "synchronous = FULL",
    "secure_delete = ON",
    "temp_store = MEMORY",
)
# Any fixed number serves, as long as no other program locks the same one in this database.
_POSTGRES_WRITER_LOCK = 0x5117E11
# PostgreSQL's codes (its manual, appendix A): lock not available, serialization, deadlock; and
# the classes of what keeps us from the database at all.
_BUSY = ("55P03", "40001", "40P01")
_UNREACHED = ("08", "28", "3D", "53", "57")


def connect_file(path: Path, *, wal: bool = True) -> Engine:
    """Open an SQLite file that only its owner may read, making it when it is not there."""
    touch_privately(path)
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=str(path)),
        connect_args={"timeout": BUSY_TIMEOUT_S},
        hide_parameters=True,  # an error or a log line must never carry a sitter's values
    )
    journal = "WAL" if wal else "DELETE"

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _: object) -> None:
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")
        _set_journal(connection, journal)

    # The driver by itself would begin too late for a schema change or a writer's place in line.
    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(connection.get_execution_options().get(_BEGIN, "BEGIN"))

    return engine


def _set_journal(connection: Any, journal: str) -> None:
    """Choose the journal; SQLite does not wait for others by itself when that changes."""
    last_try = time.monotonic() + BUSY_TIMEOUT_S
    while True:
        try:
            connection.execute(f"PRAGMA journal_mode = {journal}")
            return
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > last_try:
                raise
        time.sleep(BUSY_PAUSE_S)


def connect_url(url: str) -> Engine:
    """Open a database by URL: ``postgresql://...`` or ``sqlite:///path``."""
    try:
        parsed = sa.make_url(url)
    except ArgumentError:
        raise StoreError(
            tr(
                "The database address can't be read; write it as postgresql://name@host/database.",
            )
        ) from None
    kind = parsed.get_backend_name()
    if kind == "sqlite" and parsed.database:
        return connect_file(Path(parsed.database))
    if kind != "postgresql":
        raise StoreError(
            tr(
                "Records can't be kept in a '{kind}' database; use a file, or a PostgreSQL "
                "address.",
                kind=kind,
            )
        )
    return connect_server(parsed)


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A view of the records as they are now, which no writer can change meanwhile."""
    with _plain_errors(), engine.connect() as connection:
        if is_postgres(engine):
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """One transaction: all of it is kept, or none; writers stand in line."""
    with _plain_errors(), engine.connect() as connection:
        # A writer that starts as a reader can be refused half-way; asking for the pen first waits.
        connection = connection.execution_options(**{_BEGIN: "BEGIN IMMEDIATE"})
        with connection.begin():
            if is_postgres(engine):
                connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_POSTGRES_WRITER_LOCK)))
            yield connection


def is_postgres(engine: Engine) -> bool:
    """Whether the records live on a PostgreSQL server rather than in a file of ours."""
    return engine.dialect.name == "postgresql"


def scrub(engine: Engine, tables: Iterable[str]) -> bool:
    """Rebuild the database so that nothing deleted is left in its files; False if it was busy.

    Another window that is reading keeps the old write-ahead log alive: then try again later. On a
    server only ``tables``, which are ours, are rebuilt.
    """
    if is_postgres(engine):
        with _plain_errors(), engine.connect() as connection:
            connection = connection.execution_options(isolation_level="AUTOCOMMIT")
            for name in tables:
                connection.execute(sa.text(f"VACUUM FULL {name}"))
        return True
    with _plain_errors(), engine.connect() as connection:
        driver = cast(sqlite3.Connection, connection.connection.dbapi_connection)
        try:
            driver.execute("VACUUM")
            busy = driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        except sqlite3.OperationalError:
            return False
        return not busy


def copy_file(source: Path, target: Path, *, wal: bool = False) -> None:
    """Copy an SQLite database into ``target`` in one step, also while others write to it.

    With ``wal`` off the copy is one file, without a write-ahead log beside it. A copy that is cut
    short leaves ``target`` as it was.
    """
    try:
        with (
            closing(sqlite3.connect(source, timeout=BUSY_TIMEOUT_S)) as old,
            closing(sqlite3.connect(target, timeout=BUSY_TIMEOUT_S)) as new,
        ):
            if old.execute("PRAGMA quick_check").fetchone()[0] != "ok":
                raise sqlite3.DatabaseError("a page does not check")
            old.backup(new)
            if not wal:
                new.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        raise StoreError(
            tr(
                "The records in {source} can't be copied ({error}); use an earlier backup.",
                source=source,
                error=error,
            )
        ) from error


@contextmanager
def _plain_errors() -> Iterator[None]:
    try:
        yield
    except SQLAlchemyError as error:
        raise StoreError(_sentence(error)) from error


def _sentence(error: SQLAlchemyError) -> str:
    """What an error of the database means to whoever uses the records."""
    state, why = server_state(error), reason(error)
    if isinstance(error, IntegrityError) or state.startswith("23"):
        return (
            "This record does not fit the others: what it belongs to is not there, or its name or "
            "number is taken; load it again and retry."
        )
    if state in _BUSY or (isinstance(error, OperationalError) and "locked" in why):
        return "The records are busy in another window; wait a moment and try again."
    if isinstance(error, OperationalError | InterfaceError) or state.startswith(_UNREACHED):
        return f"The records can't be used ({why}); check the disk or the server."
    return f"The records can't be read ({why}); use a backup, or another folder."
