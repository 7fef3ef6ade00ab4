"""Copies of the records: made while they are in use, cleaned when a sitter is forgotten.

Only for records in a file of ours; a PostgreSQL server has its own backups.
"""

import secrets
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import Connection

from sitwell.base.errors import StoreError
from sitwell.base.words import tr
from sitwell.store.database import (
    connect_file,
    copy_file,
    is_postgres,
    reading,
    scrub,
    writing,
)
from sitwell.store.entries import now
from sitwell.store.places import make_privately
from sitwell.store.records import Records
from sitwell.store.rows import delete_file_rows, delete_rows, seal_rows
from sitwell.store.schema import BACKUPS, ERASURES, STEPS, TABLES
from sitwell.store.sealed import Seal
from sitwell.store.settings import LOCK, LOCK_VERSION, get_setting, lock_version, put_setting

_NAME = "records-{at:%Y%m%d-%H%M%S}-{tail}.sqlite"


@dataclass(frozen=True, slots=True, kw_only=True)
class CaughtUp:
    """Which backups were rewritten, and a sentence for each that could not be."""

    rewritten: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


def back_up(records: Records, folder: Path | None = None) -> Path:
    """Copy the records, while they may be in use, into ``folder`` (default: our own)."""
    if is_postgres(records.engine):
        raise StoreError(tr("These records are on a PostgreSQL server; back them up with pg_dump."))
    name = _NAME.format(at=now(), tail=secrets.token_hex(3))
    path = (folder or records.places.backups).absolute() / name
    with reading(records.engine) as connection:
        through = _erased_through(connection)
    make_privately(path, lambda temporary: copy_file(_file_of(records), temporary))
    _note(records, path, through, records.lock_version)
    # Somebody may have been forgotten between the copy and the note.
    catch_up(records)
    return path


def catch_up(records: Records) -> CaughtUp:
    """Bring every backup up to date with what was erased and with the passphrase."""
    if is_postgres(records.engine):
        return CaughtUp()
    _adopt_strays(records)
    rewritten, left = [], []
    with reading(records.engine) as connection:
        behind = _behind(connection)
    for path in behind:
        if not path.exists() and path.parent.is_dir():
            _drop(records, path)  # somebody deleted it
            continue
        try:
            if not path.exists():
                raise OSError(tr("its folder is not there"))
            _rewrite(records, path)
            rewritten.append(str(path))
        except (OSError, StoreError) as error:
            left.append(
                tr(
                    "The backup {path} could not be cleaned ({error}); make it reachable and open "
                    "Sitwell again, or delete it.",
                    path=path,
                    error=error,
                )
            )
    return CaughtUp(rewritten=tuple(rewritten), left=tuple(left))


def erase_as_logged(connection: Connection, erasures: list[tuple[str, str]]) -> None:
    """Delete from a copy what was erased from the records it was copied from."""
    for sitter_id, purpose in erasures:
        delete_rows(connection, sitter_id, purpose)
        delete_file_rows(connection, sitter_id)


def logged_erasures(connection: Connection) -> list[tuple[str, str]]:
    """Every erasure so far: whose, and of which purpose ("" = all)."""
    rows = connection.execute(
        sa.select(ERASURES.c.sitter_id, ERASURES.c.purpose).order_by(ERASURES.c.id)
    )
    return [(row.sitter_id, row.purpose) for row in rows]


def _rewrite(records: Records, path: Path) -> None:
    with reading(records.engine) as connection:
        erasures = logged_erasures(connection)
        newest = _newest_erasure(connection)
        lock = get_setting(connection, LOCK)
    make_privately(path, lambda temporary: _clean_copy(records, path, temporary, erasures, lock))
    with writing(records.engine) as connection:
        connection.execute(
            BACKUPS.update()
            .where(BACKUPS.c.path == str(path))
            .values(erased_through=newest, lock_version=records.lock_version)
        )


def _clean_copy(
    records: Records,
    path: Path,
    temporary: Path,
    erasures: list[tuple[str, str]],
    lock: str | None,
) -> None:
    copy_file(path, temporary)
    engine = connect_file(temporary, wal=False)
    try:
        STEPS.apply(engine)
        with writing(engine) as connection:
            erase_as_logged(connection, erasures)
            if records.seal is not None and lock is not None:
                _seal_copy(connection, records.seal, lock, records.lock_version)
        scrub(engine, TABLES)
    finally:
        engine.dispose()


def _seal_copy(connection: Connection, seal: Seal, lock: str, version: int) -> None:
    if not lock_version(connection):
        seal_rows(connection, seal)
    put_setting(connection, LOCK, lock)
    put_setting(connection, LOCK_VERSION, str(version))


def _behind(connection: Connection) -> list[Path]:
    newest, version = _newest_erasure(connection), lock_version(connection)
    late = (BACKUPS.c.erased_through < newest) | (BACKUPS.c.lock_version < version)
    return [Path(row.path) for row in connection.execute(sa.select(BACKUPS.c.path).where(late))]


def _erased_through(connection: Connection) -> int:
    # Rows of an erasure that is only begun may still be copied.
    begun = sa.select(sa.func.min(ERASURES.c.id)).where(ERASURES.c.done == 0)
    first = connection.execute(begun).scalar()
    return _newest_erasure(connection) if first is None else first - 1


def _newest_erasure(connection: Connection) -> int:
    return connection.execute(sa.select(sa.func.max(ERASURES.c.id))).scalar() or 0


def _adopt_strays(records: Records) -> None:
    # A power cut between the copy and the note leaves a backup that nothing knows.
    with reading(records.engine) as connection:
        known = {row.path for row in connection.execute(sa.select(BACKUPS.c.path))}
    for path in sorted(records.places.backups.glob("records-*.sqlite")):
        if str(path) not in known:
            _note(records, path, 0, 0)


def _note(records: Records, path: Path, erased_through: int, version: int) -> None:
    with writing(records.engine) as connection:
        connection.execute(BACKUPS.delete().where(BACKUPS.c.path == str(path)))
        connection.execute(
            BACKUPS.insert().values(
                path=str(path),
                at=now().isoformat(),
                erased_through=erased_through,
                lock_version=version,
            )
        )


def _drop(records: Records, path: Path) -> None:
    with writing(records.engine) as connection:
        connection.execute(BACKUPS.delete().where(BACKUPS.c.path == str(path)))


def _file_of(records: Records) -> Path:
    return Path(str(records.engine.url.database))
