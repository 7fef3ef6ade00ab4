"""Going back to a backup, without bringing back whom the present records have forgotten."""

import tempfile
from pathlib import Path

from sqlalchemy import Engine

from sitwell.base.errors import StoreError
from sitwell.base.words import tr
from sitwell.store.backups import back_up, erase_as_logged, logged_erasures
from sitwell.store.database import (
    connect_file,
    copy_file,
    is_postgres,
    reading,
    scrub,
    writing,
)
from sitwell.store.entries import now
from sitwell.store.places import PART
from sitwell.store.records import Records
from sitwell.store.rows import seal_rows
from sitwell.store.schema import BACKUPS, ERASURES, STEPS, TABLES
from sitwell.store.sealed import Passphrase, key_id, unlock
from sitwell.store.settings import LOCK, LOCK_VERSION, get_setting, lock_version, put_setting


def restore(records: Records, backup: Path, *, passphrase: Passphrase = None) -> Path:
    """Put ``backup`` in the place of the present records, and close those: open them again.

    The present records are backed up first; gives where. ``passphrase`` is needed only where the
    backup is sealed with another one than the present records.
    """
    if is_postgres(records.engine):
        raise StoreError(
            tr("These records are on a PostgreSQL server; restore them with pg_restore.")
        )
    if not backup.is_file():
        raise StoreError(tr("There is no backup at {backup}; check the name.", backup=backup))
    before = back_up(records)
    with tempfile.TemporaryDirectory(prefix=PART, dir=records.places.home) as folder:
        copy = Path(folder) / "records.sqlite"
        copy_file(backup, copy)
        engine = connect_file(copy, wal=False)
        try:
            _bring_up_to_date(records, engine, passphrase)
        finally:
            engine.dispose()
        records.close()
        copy_file(copy, Path(str(records.engine.url.database)), wal=True)
    return before


def _bring_up_to_date(records: Records, copy: Engine, passphrase: Passphrase) -> None:
    STEPS.apply(copy)
    with reading(records.engine) as present:
        erasures = logged_erasures(present)
        paths = [row.path for row in present.execute(BACKUPS.select())]
        lock, version = get_setting(present, LOCK), lock_version(present)
    with writing(copy) as connection:
        known = set(logged_erasures(connection))
        for sitter_id, purpose in erasures:
            if (sitter_id, purpose) not in known:
                connection.execute(
                    ERASURES.insert().values(
                        sitter_id=sitter_id, purpose=purpose, at=now().isoformat(), done=1
                    )
                )
        erase_as_logged(connection, logged_erasures(connection))
        connection.execute(BACKUPS.delete())
        # Nothing is known of them any more, so each is gone through again.
        for path in paths:
            connection.execute(
                BACKUPS.insert().values(
                    path=path, at=now().isoformat(), erased_through=0, lock_version=0
                )
            )
        theirs = get_setting(connection, LOCK)
        if theirs is None and records.seal is not None:
            seal_rows(connection, records.seal)
        if lock is not None and (theirs is None or key_id(theirs) == key_id(lock)):
            put_setting(connection, LOCK, lock)
            put_setting(connection, LOCK_VERSION, str(version))
        elif theirs is not None:
            unlock(theirs, passphrase)
    scrub(copy, TABLES)
