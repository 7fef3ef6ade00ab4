"""The tables of the records, as the ordered steps that made them.

Every row of a sitter has the same shape: its number, whose it is, when, and a body (JSON, sealed
or not) with all the rest; so erasing and sealing are one loop each. A step is never edited once
released: a change is a new step.
"""

from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Column, Connection, ForeignKey, LargeBinary, String

from sitwell.store.entries import (
    CROPS,
    MEASUREMENTS,
    WISHES,
    Consent,
    Crop,
    KeptFrame,
    KeptHead,
    KeptKit,
    KeptPlan,
    KeptRoom,
    KeptWishes,
    OurFile,
    Sitter,
    Sitting,
    UsedSetup,
)
from sitwell.store.migrations import Steps

STEPS = Steps()

TABLE_OF: dict[type[Any], str] = {
    Sitter: "sitters",
    Consent: "consents",
    Sitting: "sittings",
    KeptWishes: "wishes",
    KeptHead: "heads",
    KeptPlan: "plans",
    UsedSetup: "setups",
    KeptFrame: "frames",
    Crop: "crops",
    OurFile: "files",
    KeptKit: "kits",
    KeptRoom: "rooms",
}
# What must have been agreed to before a row may be kept, and whose end erases it.
NEEDS: dict[str, frozenset[str]] = {
    "wishes": frozenset({WISHES}),
    "heads": frozenset({MEASUREMENTS}),
    "plans": frozenset({MEASUREMENTS, WISHES}),  # its gains and reasons name the wishes
    "setups": frozenset({MEASUREMENTS}),
    "frames": frozenset({MEASUREMENTS}),
    "crops": frozenset({CROPS}),
}
TABLES = tuple(TABLE_OF.values())
MARKED = ("sitters", "kits", "rooms")  # found by a name that is unique
OF_SITTER = (*NEEDS, "sittings", "consents")  # in the order in which they can be erased


@cache
def query_table(name: str) -> sa.TableClause:
    """A table as queries see it."""
    columns = ["id", "at", "body"]
    columns += [] if name in MARKED else ["sitter_id"]
    columns += ["sitting_id"] if name in NEEDS else []
    columns += ["mark"] if name in MARKED else []
    return sa.table(name, *(sa.column(c, LargeBinary if c == "body" else String) for c in columns))


SETTINGS = sa.table("settings", sa.column("name"), sa.column("value"))
ERASURES = sa.table(
    "erasures",
    *(sa.column(c) for c in ("id", "sitter_id", "purpose", "at", "done")),
)
BACKUPS = sa.table(
    "backups",
    *(sa.column(c) for c in ("id", "path", "at", "erased_through", "lock_version")),
)


@STEPS.add
def sitters_and_consents(connection: Connection) -> None:
    """Who sits, and what they agreed to."""
    _create(connection, "sitters", *_row(), _mark())
    _create(connection, "consents", *_row(), _sitter())


@STEPS.add
def sittings_and_what_they_hold(connection: Connection) -> None:
    """One table for each kind of thing that a sitting leaves."""
    _create(connection, "sittings", *_row(), _sitter(), sa.UniqueConstraint("id", "sitter_id"))
    for name in ("wishes", "heads", "plans", "setups", "frames", "crops"):
        _create(connection, name, *_row(), _sitter(), *_sitting())


@STEPS.add
def kits_and_rooms(connection: Connection) -> None:
    """The photographer's own things, which belong to no sitter."""
    _create(connection, "kits", *_row(), _mark())
    _create(connection, "rooms", *_row(), _mark())


@STEPS.add
def settings(connection: Connection) -> None:
    """A few single values: the lock, the last sweep."""
    _create(
        connection,
        "settings",
        Column("name", String(50), primary_key=True),
        Column("value", sa.Text, nullable=False),
    )


@STEPS.add
def erasures_files_and_backups(connection: Connection) -> None:
    """What must be gone, and the places outside the records where it may still be.

    An erasure row is kept for good, as a random number without a name: a backup that turns up
    later is cleaned by it. ``files`` has no tie to ``sitters``, so that a file that could not be
    removed at first is still known after its sitter is gone.
    """
    _create(connection, "files", *_row(), Column("sitter_id", String(32), nullable=False))
    _create(
        connection,
        "erasures",
        Column("id", sa.Integer, primary_key=True, autoincrement=True),
        Column("sitter_id", String(32), nullable=False),
        Column("purpose", String(20), nullable=False),
        Column("at", String(40), nullable=False),
        Column("done", sa.Integer, nullable=False),
    )
    _create(
        connection,
        "backups",
        Column("id", sa.Integer, primary_key=True, autoincrement=True),
        Column("path", sa.Text, nullable=False, unique=True),
        Column("at", String(40), nullable=False),
        Column("erased_through", sa.Integer, nullable=False),
        Column("lock_version", sa.Integer, nullable=False),
    )


def _create(connection: Connection, name: str, *parts: sa.schema.SchemaItem) -> None:
    metadata = sa.MetaData()
    for other in ("sitters", "sittings"):
        if other != name and sa.inspect(connection).has_table(other):
            sa.Table(other, metadata, autoload_with=connection)
    sa.Table(name, metadata, *parts).create(connection)


def _row() -> tuple[Column[str], Column[str], Column[bytes]]:
    return (
        Column("id", String(32), primary_key=True),
        Column("at", String(40), nullable=False, index=True),
        Column("body", LargeBinary, nullable=False),
    )


def _mark() -> Column[str]:
    return Column("mark", String(32), nullable=False, unique=True)


def _sitter() -> Column[str]:
    return Column(
        "sitter_id", ForeignKey("sitters.id", ondelete="CASCADE"), nullable=False, index=True
    )


def _sitting() -> tuple[Column[str], sa.ForeignKeyConstraint]:
    # Both columns together: a row can't sit in another sitter's sitting.
    return (
        Column("sitting_id", String(32), nullable=False, index=True),
        sa.ForeignKeyConstraint(
            ["sitting_id", "sitter_id"],
            ["sittings.id", "sittings.sitter_id"],
            ondelete="CASCADE",
        ),
    )
