"""A few single values that the records keep about themselves."""

import sqlalchemy as sa
from sqlalchemy import Connection

from sitwell.store.schema import SETTINGS

LOCK = "lock"
LOCK_VERSION = "lock_version"


def get_setting(connection: Connection, name: str) -> str | None:
    """The value kept under ``name``, or None; also where the schema has no settings yet."""
    if not sa.inspect(connection).has_table(SETTINGS.name):
        return None
    value = sa.select(SETTINGS.c.value).where(SETTINGS.c.name == name)
    return connection.execute(value).scalar()


def put_setting(connection: Connection, name: str, value: str) -> None:
    """Keep ``value`` under ``name``."""
    connection.execute(SETTINGS.delete().where(SETTINGS.c.name == name))
    connection.execute(SETTINGS.insert().values(name=name, value=value))


def lock_version(connection: Connection) -> int:
    """How often the passphrase has been set; 0 = the records are not sealed."""
    return int(get_setting(connection, LOCK_VERSION) or 0)
