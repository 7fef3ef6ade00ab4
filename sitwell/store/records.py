"""The records: keep what was agreed to, find it again, and bring back what worked.

Everything that crosses here is a frozen value from ``kept``. Consent is checked inside the same
transaction that keeps a record, so no path around it exists.
"""

import dataclasses
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy import Connection, Engine

from sitwell.base.errors import ConsentError, SealError, StoreError
from sitwell.base.words import tr
from sitwell.store.consent import agreed, check_giver, in_force, require
from sitwell.store.database import reading, writing
from sitwell.store.entries import (
    MEASUREMENTS,
    WISHES,
    Consent,
    Kept,
    KeptFrame,
    KeptHead,
    KeptKit,
    KeptPlan,
    KeptRoom,
    KeptWishes,
    OurFile,
    Sat,
    Sitter,
    Sitting,
    UsedSetup,
    now,
)
from sitwell.store.places import Places
from sitwell.store.record_bytes import from_body, to_body
from sitwell.store.reports import ErasureReport
from sitwell.store.schema import ERASURES, MARKED, NEEDS, TABLE_OF, query_table
from sitwell.store.sealed import Seal, mark
from sitwell.store.settings import lock_version

K = TypeVar("K", bound=Kept)
_SEARCHED: tuple[type[Kept], ...] = (
    Sitter, Sitting, KeptWishes, KeptHead, UsedSetup, KeptFrame, KeptKit, KeptRoom,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Returning:
    """A sitter who comes back: their head, wishes, plan and set-ups that worked, newest first.

    All of it only as far as a consent is in force; ``yes`` is the one to measurements that lasts
    longest.
    """

    sitter: Sitter
    agreed: frozenset[str]
    yes: Consent | None
    head: KeptHead | None
    wishes: KeptWishes | None
    plan: KeptPlan | None
    worked: tuple[UsedSetup, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One hit of a search: which record, in which field, and the whole text of that field."""

    record: Kept
    field: str
    text: str


@dataclass(slots=True)
class Records:
    """Open records; made by ``opening.open_records``, closed at the end of its block."""

    engine: Engine
    places: Places
    seal: Seal | None = field(default=None, repr=False)
    lock_version: int = 0
    swept: tuple[ErasureReport, ...] = ()  # what had come to its end at this opening

    def __enter__(self) -> "Records":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    # Keeping

    def keep(self, *records: Kept, at: datetime | None = None, only_new: bool = False) -> None:
        """Keep records in one transaction, all or none; one with a known number replaces it.

        Refuses what the sitter has not agreed to at the moment ``at`` (default: now), and with
        ``only_new`` a number that is known already.
        """
        with self.writing() as connection:
            for record in records:
                self._check(connection, record, at or now())
                self._put(connection, record, only_new)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction that is refused when another window has changed the passphrase."""
        with writing(self.engine) as connection:
            if lock_version(connection) != self.lock_version:
                raise SealError(
                    tr(
                        "The passphrase was set or changed in another window; open the records "
                        "again.",
                    )
                )
            yield connection

    def add_sitter(self, label: str, *, note: str = "", child: bool = False) -> Sitter:
        """Write down a new sitter under a label that nobody else has."""
        sitter = Sitter(label=label, note=note, child=child)
        self.keep(sitter)
        return sitter

    def cache_folder(self, sitter: Sitter, *, at: datetime | None = None) -> Path:
        """A folder for what can be computed again from this face; forgetting empties it."""
        with reading(self.engine) as connection:
            require({MEASUREMENTS}, self._consents(connection, sitter.id), sitter, at or now())
        folder = self.places.cache / sitter.id
        folder.mkdir(mode=0o700, exist_ok=True)
        return folder

    # Finding

    def sitter(self, label: str) -> Sitter:
        """The sitter of this label, whatever its capitals and spaces."""
        return self._by_mark(Sitter, label, "sitter")

    def known(self, label: str) -> Sitter | None:
        """The sitter of this label, or None where nobody is called so."""
        return next(self._marked(Sitter, label), None)

    def sitter_of(self, record: Sitting | Sat) -> Sitter:
        """The sitter whose record this is."""
        with reading(self.engine) as connection:
            return self._sitter(connection, record.sitter_id)

    def sitters(self) -> tuple[Sitter, ...]:
        """All sitters, by when they were added."""
        return self.all(Sitter)

    def kit(self, name: str) -> KeptKit:
        """The kit of this name."""
        return self._by_mark(KeptKit, name, "kit")

    def room(self, name: str) -> KeptRoom:
        """The room of this name."""
        return self._by_mark(KeptRoom, name, "room")

    def all(self, kind: type[K], sitter: Sitter | None = None) -> tuple[K, ...]:
        """All records of one kind, of one sitter or of everybody, oldest first."""
        with reading(self.engine) as connection:
            return tuple(self.rows(connection, kind, sitter.id if sitter else None))

    def of_sitting(self, kind: type[K], sitting: Sitting) -> tuple[K, ...]:
        """All records of one kind in one sitting, oldest first."""
        table = query_table(TABLE_OF[kind])
        with reading(self.engine) as connection:
            return tuple(self._read(connection, kind, table.c.sitting_id == sitting.id))

    def returning(self, sitter: Sitter, *, at: datetime | None = None) -> Returning:
        """What to start from when a sitter comes back."""
        with reading(self.engine) as connection:
            given, moment = self._consents(connection, sitter.id), at or now()
            allowed = agreed(given, sitter, moment)
            faces, asked = MEASUREMENTS in allowed, WISHES in allowed
            heads = list(self.rows(connection, KeptHead, sitter.id)) if faces else []
            wishes = list(self.rows(connection, KeptWishes, sitter.id)) if asked else []
            plans = list(self.rows(connection, KeptPlan, sitter.id)) if faces and asked else []
            setups = list(self.rows(connection, UsedSetup, sitter.id)) if faces else []
        standing = [yes for yes in given if in_force([yes], sitter, MEASUREMENTS, moment)]
        return Returning(
            sitter=sitter,
            agreed=allowed,
            yes=max(standing, key=lambda yes: yes.keep_until, default=None),
            head=heads[-1] if heads else None,
            wishes=wishes[-1] if wishes else None,
            plan=plans[-1] if plans else None,
            worked=tuple(setup for setup in reversed(setups) if setup.worked),
        )

    def agreed(self, sitter: Sitter, *, at: datetime | None = None) -> frozenset[str]:
        """Every purpose that the sitter has said yes to and that is in force."""
        return agreed(self.all(Consent, sitter), sitter, at or now())

    def keep_until(self, sitter: Sitter) -> date | None:
        """The last day on which a yes of the sitter stands; None where nobody said yes."""
        given = self.all(Consent, sitter)
        return max((yes.keep_until for yes in given if not yes.withdrawn_at), default=None)

    def search(self, text: str) -> tuple[Found, ...]:
        """Records whose words hold ``text``, whatever its capitals; measures are not searched."""
        sought = text.casefold().strip()
        if not sought:
            raise StoreError(tr("The search text is empty; give a word from a label or a note."))
        return tuple(
            Found(record=record, field=name, text=words)
            for kind in _SEARCHED
            for record in self.all(kind)
            for name, words in _words(record)
            if sought in words.casefold()
        )

    def rows(
        self, connection: Connection, kind: type[K], sitter_id: str | None = None
    ) -> Iterator[K]:
        """All records of one kind inside an open transaction."""
        c = query_table(TABLE_OF[kind]).c
        everybody = sa.true()
        whose = c.id if kind is Sitter else c.get("sitter_id", everybody)
        yield from self._read(
            connection, kind, everybody if sitter_id is None else whose == sitter_id
        )

    # Below: rows and bodies

    def _check(self, connection: Connection, record: Kept, at: datetime) -> None:
        needs = NEEDS.get(TABLE_OF[type(record)], frozenset())
        if isinstance(record, Sitter):
            _refuse_forgotten(connection, record)
        if not isinstance(record, Consent | Sitting | OurFile | Sat):
            return
        sitter = self._sitter(connection, record.sitter_id)
        if isinstance(record, Consent):
            check_giver(record, sitter)
        require(needs, self._consents(connection, sitter.id), sitter, at)

    def _put(self, connection: Connection, record: Kept, only_new: bool) -> None:
        table = query_table(TABLE_OF[type(record)])
        values = self._row(record)
        same = table.c.id == record.id
        if "sitter_id" in values:
            same &= table.c.sitter_id == values["sitter_id"]
        self._refuse_taken_name(connection, record)
        update = table.update().where(same).values(values)
        if only_new or not connection.execute(update).rowcount:
            connection.execute(table.insert().values(values))

    def _row(self, record: Kept) -> dict[str, object]:
        table = TABLE_OF[type(record)]
        row: dict[str, object] = {
            "id": record.id,
            "at": record.at.astimezone(UTC).isoformat(timespec="microseconds"),
            "body": to_body(record, self.seal, f"{table}/{record.id}"),
        }
        for name in ("sitter_id", "sitting_id"):
            if hasattr(record, name):
                row[name] = getattr(record, name)
        if table in MARKED:
            row["mark"] = mark(name_of(record), self.seal)
        return row

    def _read(
        self, connection: Connection, kind: type[K], where: sa.ColumnElement[bool]
    ) -> Iterator[K]:
        name = TABLE_OF[kind]
        table = query_table(name)
        rows = sa.select(table.c.id, table.c.body).where(where).order_by(table.c.at, table.c.id)
        for row in connection.execute(rows):
            yield from_body(row.body, kind, self.seal, f"{name}/{row.id}")

    def _sitter(self, connection: Connection, sitter_id: str) -> Sitter:
        for sitter in self.rows(connection, Sitter, sitter_id):
            return sitter
        raise StoreError(tr("This sitter is not in the records any more; add them again."))

    def _consents(self, connection: Connection, sitter_id: str) -> tuple[Consent, ...]:
        return tuple(self.rows(connection, Consent, sitter_id))

    def _by_mark(self, kind: type[K], name: str, word: str) -> K:
        for record in self._marked(kind, name):
            return record
        # The others are not listed: the screen may be seen by a sitter.
        raise StoreError(
            tr(
                "No {word} is called '{name}'; search for a part of the name.",
                word=word,
                name=name,
            )
        )

    def _marked(self, kind: type[K], name: str) -> Iterator[K]:
        """The one record of that name, if there is one."""
        wanted = query_table(TABLE_OF[kind]).c.mark == mark(name, self.seal)
        with reading(self.engine) as connection:
            found = list(self._read(connection, kind, wanted))
        yield from found

    def _refuse_taken_name(self, connection: Connection, record: Kept) -> None:
        table = TABLE_OF[type(record)]
        if table not in MARKED:
            return
        c = query_table(table).c
        taken = (c.mark == mark(name_of(record), self.seal)) & (c.id != record.id)
        if connection.execute(sa.select(c.id).where(taken)).first():
            raise StoreError(
                tr(
                    "'{name_of}' is taken in the {table}; choose another name, or open that one.",
                    name_of=name_of(record),
                    table=table,
                )
            )


def _refuse_forgotten(connection: Connection, sitter: Sitter) -> None:
    gone = (ERASURES.c.sitter_id == sitter.id) & (ERASURES.c.purpose == "")
    if connection.execute(sa.select(ERASURES.c.id).where(gone)).first():
        raise ConsentError(
            tr(
                "{label} was forgotten on this machine; if they sit again, add them anew and "
                "ask again.",
                label=sitter.label,
            )
        )


def name_of(record: Kept) -> str:
    """The label or name that a record is called by."""
    return str(getattr(record, "label", "") or getattr(record, "name", ""))


def _words(record: Kept) -> Iterator[tuple[str, str]]:
    for item in dataclasses.fields(record):
        value = getattr(record, item.name)
        if isinstance(value, str) and not item.name.endswith("id"):
            yield item.name, value
        elif isinstance(record, KeptWishes) and item.name == "wishes":
            yield item.name, ", ".join(wish.feature for wish in record.wishes)
