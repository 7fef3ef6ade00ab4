"""Opening the records: schema brought up to date, begun erasures finished, ended terms swept."""

import logging
import os
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine

from sitwell.base.errors import SealError, StoreError
from sitwell.base.words import tr
from sitwell.store.database import connect_file, connect_url, reading
from sitwell.store.erase import finish_erasures, sweep
from sitwell.store.logs import start_log
from sitwell.store.pending import Pending
from sitwell.store.places import make_places
from sitwell.store.records import Records
from sitwell.store.schema import STEPS
from sitwell.store.sealed import Passphrase, Seal, unlock
from sitwell.store.settings import LOCK, get_setting, lock_version
from sitwell.store.unrecorded import forget_loose, sweep_readings, sweep_temporary

DATABASE_VARIABLE = "SITWELL_DATABASE"

_LOG = logging.getLogger("sitwell.store")


def open_records(
    home: Path | None = None,
    *,
    url: str | None = None,
    passphrase: Passphrase = None,
    at: datetime | None = None,
) -> Records:
    """Open the records in ``home`` (default: SITWELL_HOME or this system's place), or at ``url``.

    Use it as ``with open_records() as records:``. What had come to its end by ``at`` (default: now)
    is erased first; ``records.swept`` says what. ``passphrase`` may be a function that asks for it,
    which is called only where the records are sealed. Without ``url`` the address in
    SITWELL_DATABASE counts, where there is one.
    """
    places = make_places(home)
    start_log(places)
    sweep_readings(places, at)
    Pending(places.home).retry()
    forget_loose(places, again=True)
    sweep_temporary()
    url = url or os.environ.get(DATABASE_VARIABLE, "").strip()
    engine = connect_url(url) if url else connect_file(places.database)
    try:
        STEPS.apply(engine)
        seal, version = _open_seal(engine, passphrase)
        records = Records(engine=engine, places=places, seal=seal, lock_version=version)
        records.swept = finish_erasures(records) + sweep(records, at=at)
    except BaseException:
        engine.dispose()
        raise
    _LOG.info("records opened, %d erasures made", len(records.swept))
    return records


def are_sealed(home: Path | None = None) -> bool:
    """Whether the records are under a passphrase; records that can't be reached are not known."""
    places, url = make_places(home), os.environ.get(DATABASE_VARIABLE, "").strip()
    engine = connect_url(url) if url else connect_file(places.database)
    try:
        with reading(engine) as connection:
            return get_setting(connection, LOCK) is not None
    except StoreError:
        return False
    finally:
        engine.dispose()


def _open_seal(engine: Engine, passphrase: Passphrase) -> tuple[Seal | None, int]:
    with reading(engine) as connection:
        locked, version = get_setting(connection, LOCK), lock_version(connection)
    if locked is not None:
        return unlock(locked, passphrase), version
    if passphrase and not callable(passphrase):
        raise SealError(
            tr(
                "These records are not sealed, so the passphrase opens nothing; set one first, "
                "or open them without.",
            )
        )
    return None, version
