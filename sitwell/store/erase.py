"""Forgetting: a sitter, one purpose, or whatever has come to its end, in every copy that is ours.

First the intention is written down, then everything is erased, then the intention is marked done;
so an erasure that was cut short is finished at the next opening, and each step may run twice.
"""

import logging
from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import Connection

from sitwell.base.errors import ConsentError
from sitwell.base.words import mark, tr
from sitwell.store.backups import catch_up
from sitwell.store.consent import agreed
from sitwell.store.database import is_postgres, reading, scrub
from sitwell.store.entries import PURPOSES, Consent, KeptFrame, OurFile, Sitter, now
from sitwell.store.files import remove_files
from sitwell.store.pending import erase_tree
from sitwell.store.records import Records
from sitwell.store.reports import ErasureReport
from sitwell.store.rows import delete_rows, holders
from sitwell.store.schema import ERASURES, TABLES

_LOG = logging.getLogger("sitwell.store")

_COPIES = mark(
    "prints, files you sent or moved, and copies that other programs made of this machine's disk "
    "(system backups, cloud folders, snapshots)."
)
_SERVER = mark("the database server's own backups and logs; ask whoever runs it.")
_BUSY = mark(
    "the records' write-ahead log, because another window is reading; close it and open Sitwell "
    "again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Erasure:
    """One erasure that was asked for: its number, whose, and of what ("" = everything)."""

    id: int
    sitter_id: str
    purpose: str
    label: str = field(default_factory=lambda: tr("a sitter whose erasure had been cut short"))


def forget(records: Records, sitter: Sitter) -> ErasureReport:
    """Erase all that is kept of a sitter: records, crops, caches, sheets, exports and backups.

    The report says what was erased, what could not be yet, and what is not ours: the photographs
    above all, which are never touched.
    """
    with records.writing() as connection:
        erasure = _intend(connection, sitter, "")
    return _carry_out(records, [erasure])[0]


def withdraw(
    records: Records, sitter: Sitter, purpose: str, *, at: datetime | None = None
) -> ErasureReport:
    """End the yes to one purpose and erase what was kept under it.

    The consent itself stays on record as withdrawn, until the sitter is forgotten.
    """
    if purpose not in PURPOSES:
        raise ConsentError(
            tr(
                "Consent to '{purpose}' is not known; name {known}.",
                purpose=purpose,
                known=", ".join(PURPOSES),
            )
        )
    with reading(records.engine) as connection:
        given = [c for c in records.rows(connection, Consent, sitter.id) if c.purpose == purpose]
    records.keep(*(replace(c, withdrawn_at=at or now()) for c in given if not c.withdrawn_at))
    with records.writing() as connection:
        erasure = _intend(connection, sitter, purpose)
    return _carry_out(records, [erasure])[0]


def sweep(records: Records, *, at: datetime | None = None) -> tuple[ErasureReport, ...]:
    """Erase what nobody's yes covers any more at the moment ``at`` (default: now).

    A sitter whose every yes has ended is forgotten, label and all; one who never said yes has
    nothing kept but the label, and stays.
    """
    moment = at or now()
    with records.writing() as connection:
        ended = [
            _intend(connection, sitter, purpose)
            for sitter, purpose in _ended(records, connection, moment)
        ]
    reports = _carry_out(records, ended)
    if reports:
        _LOG.info("swept, %d erasures", len(reports))
    return reports


def finish_erasures(records: Records) -> tuple[ErasureReport, ...]:
    """Carry out what was asked for but cut short, and reach backups that were out of reach."""
    with reading(records.engine) as connection:
        rows = connection.execute(sa.select(ERASURES).where(ERASURES.c.done == 0)).all()
    begun = [_Erasure(id=r.id, sitter_id=r.sitter_id, purpose=r.purpose) for r in rows]
    if not begun:
        catch_up(records)
    return _carry_out(records, begun)


def _ended(records: Records, connection: Connection, moment: datetime) -> list[tuple[Sitter, str]]:
    given: dict[str, list[Consent]] = defaultdict(list)
    for consent in records.rows(connection, Consent):
        given[consent.sitter_id].append(consent)
    kept_of = {purpose: holders(connection, purpose) for purpose in PURPOSES}
    ended = []
    for sitter in records.rows(connection, Sitter):
        # a yes that was written down while the sweep waited for its turn has not ended
        latest = max([moment, *(consent.at for consent in given[sitter.id])])
        allowed = agreed(given[sitter.id], sitter, latest)
        if given[sitter.id] and not allowed:
            ended.append((sitter, ""))
            continue
        over = (p for p in PURPOSES if p not in allowed and sitter.id in kept_of[p])
        ended += [(sitter, purpose) for purpose in over]
    return ended


def _intend(connection: Connection, sitter: Sitter, purpose: str) -> _Erasure:
    values = {"sitter_id": sitter.id, "purpose": purpose, "at": now().isoformat(), "done": 0}
    connection.execute(ERASURES.insert().values(values))
    number = connection.execute(sa.select(sa.func.max(ERASURES.c.id))).scalar_one()
    return _Erasure(id=number, sitter_id=sitter.id, purpose=purpose, label=sitter.label)


def _carry_out(records: Records, erasures: list[_Erasure]) -> tuple[ErasureReport, ...]:
    if not erasures:
        return ()
    reports = [_erase_here(records, erasure) for erasure in erasures]
    busy = () if scrub(records.engine, TABLES) else (tr(_BUSY),)
    caught_up = catch_up(records)
    whole = [e.id for e, report in zip(erasures, reports, strict=True) if report.complete]
    if not busy:
        with records.writing() as connection:
            connection.execute(ERASURES.update().where(ERASURES.c.id.in_(whole)).values(done=1))
    _LOG.info("%d erasures carried out, %d whole", len(erasures), len(whole))
    return tuple(
        replace(report, backups=caught_up.rewritten, left=report.left + busy + caught_up.left)
        for report in reports
    )


def _erase_here(records: Records, erasure: _Erasure) -> ErasureReport:
    with reading(records.engine) as connection:
        files = tuple(records.rows(connection, OurFile, erasure.sitter_id))
        frames = tuple(records.rows(connection, KeptFrame, erasure.sitter_id))
    # Sheets and exports hold everything that was agreed to at the time, so any end ends them.
    removal = remove_files(records, files)
    cached = erase_tree(records.places.cache / erasure.sitter_id)
    with records.writing() as connection:
        rows = delete_rows(connection, erasure.sitter_id, erasure.purpose)
    return ErasureReport(
        label=erasure.label,
        purpose=erasure.purpose,
        rows=rows,
        files=removal.removed,
        cached_files=cached.files,
        left=removal.left + cached.left,
        not_ours=removal.not_ours + _not_ours(records, frames),
    )


def _not_ours(records: Records, frames: tuple[KeptFrame, ...]) -> tuple[str, ...]:
    folders = sorted({str(Path(frame.path).parent) for frame in frames})
    where = ", ".join(folders)
    photographs = (
        tr(
            "the photographs in {where} and the XMP sidecars beside them; they are yours.",
            where=where,
        )
        if folders
        else tr("the photographs and the XMP sidecars beside them; they are yours.")
    )
    return (photographs, tr(_COPIES), *((tr(_SERVER),) if is_postgres(records.engine) else ()))
