"""Work on all rows alike, whatever they hold: erasing a sitter's, sealing everybody's."""

import json

import sqlalchemy as sa
from sqlalchemy import Connection

from sitwell.store.schema import MARKED, NEEDS, OF_SITTER, TABLE_OF, query_table
from sitwell.store.sealed import Seal, mark


def delete_rows(connection: Connection, sitter_id: str, purpose: str) -> dict[str, int]:
    """Delete a sitter's rows that need ``purpose``, or all of them for "", and count by table.

    The rows of ``files`` stay, because they name what is still to be removed.
    """
    wanted = [table for table in OF_SITTER if not purpose or purpose in NEEDS.get(table, ())]
    counts = {table: _delete(connection, table, "sitter_id", sitter_id) for table in wanted}
    if not purpose:
        counts["sitters"] = _delete(connection, "sitters", "id", sitter_id)
    return counts


def delete_file_rows(connection: Connection, sitter_id: str) -> None:
    """Delete what is known of a sitter's files outside the records."""
    _delete(connection, "files", "sitter_id", sitter_id)


def holders(connection: Connection, purpose: str) -> set[str]:
    """The sitters of whom something is kept under ``purpose``."""
    tables = [query_table(name) for name, needs in NEEDS.items() if purpose in needs]
    return {
        row.sitter_id
        for table in tables
        for row in connection.execute(sa.select(table.c.sitter_id).distinct())
    }


def seal_rows(connection: Connection, seal: Seal) -> None:
    """Seal every body of records that are not sealed yet."""
    for name in TABLE_OF.values():
        table = query_table(name)
        for row in connection.execute(sa.select(table.c.id, table.c.body)).all():
            values: dict[str, object] = {"body": seal.close(row.body, f"{name}/{row.id}")}
            if name in MARKED:
                plain = json.loads(row.body)
                values["mark"] = mark(plain.get("label") or plain["name"], seal)
            connection.execute(table.update().where(table.c.id == row.id).values(values))


def _delete(connection: Connection, name: str, column: str, value: str) -> int:
    table = query_table(name)
    return connection.execute(table.delete().where(table.c[column] == value)).rowcount
