"""Setting and changing the passphrase of records that are already there."""

from sitwell.base.words import tr
from sitwell.store.backups import catch_up
from sitwell.store.database import scrub
from sitwell.store.records import Records
from sitwell.store.rows import seal_rows
from sitwell.store.schema import TABLES
from sitwell.store.sealed import COST, Seal, lock, new_seal
from sitwell.store.settings import LOCK, LOCK_VERSION, put_setting


def set_passphrase(records: Records, passphrase: str, *, cost: int = COST) -> tuple[str, ...]:
    """Seal the records and every backup within reach, or change the passphrase of sealed ones.

    Gives a sentence for each thing that is not sealed yet. A lost passphrase can't be replaced:
    ``sealed.LOST_PASSPHRASE`` is what to tell the photographer before calling this.
    """
    seal, locked = _locked(records, passphrase, cost)
    with records.writing() as connection:
        if records.seal is None:
            seal_rows(connection, seal)
        version = records.lock_version + 1
        put_setting(connection, LOCK, locked)
        put_setting(connection, LOCK_VERSION, str(version))
    records.seal, records.lock_version = seal, version
    left = catch_up(records).left
    if not scrub(records.engine, TABLES):
        left += (tr("The old text is still in the write-ahead log; close the other windows."),)
    return left


def _locked(records: Records, passphrase: str, cost: int) -> tuple[Seal, str]:
    if records.seal is None:
        return new_seal(passphrase, cost=cost)
    return records.seal, lock(records.seal, passphrase, cost=cost)
