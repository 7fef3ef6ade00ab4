"""A schema as ordered, named steps, each applied once.

A step and the record that it ran are one transaction: after a power cut either both are there or
neither is. What is pending and what is applied can be asked without writing.
"""

from collections.abc import Callable

import sqlalchemy as sa
from sqlalchemy import Connection, Engine

from sitwell.base.errors import MigrationError
from sitwell.base.words import tr
from sitwell.store.database import reading, writing

Step = Callable[[Connection], None]

_RECORD = sa.Table(
    "migrations",
    sa.MetaData(),
    sa.Column("position", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("name", sa.String(200), nullable=False, unique=True),
)


class Steps:
    """An ordered list of steps; register each with ``@steps.add``, in the order they must run."""

    def __init__(self) -> None:
        self._steps: dict[str, Step] = {}

    def add(self, step: Step) -> Step:
        """Register a step under its function's name; a name can be used once."""
        name = step.__name__
        if name in self._steps:
            raise MigrationError(
                tr(
                    "The schema step '{name}' is registered twice; give each step its own name.",
                    name=name,
                )
            )
        self._steps[name] = step
        return step

    def names(self) -> tuple[str, ...]:
        """All steps, in order."""
        return tuple(self._steps)

    def applied(self, engine: Engine) -> tuple[str, ...]:
        """The steps that this database has been through, in order; writes nothing."""
        with reading(engine) as connection:
            return _applied(connection)

    def pending(self, engine: Engine) -> tuple[str, ...]:
        """The steps that this database still needs, in order; writes nothing."""
        return self._pending(self.applied(engine))

    def apply(self, engine: Engine, *, until: str | None = None) -> tuple[str, ...]:
        """Run the pending steps, up to and with ``until``, and say which ran.

        Two processes may call this on one database: the second waits and finds nothing to do.
        """
        if until is not None and until not in self._steps:
            known = ", ".join(self._steps)
            raise MigrationError(
                tr(
                    "No schema step is called '{until}'; the steps are {known}.",
                    until=until,
                    known=known,
                )
            )
        ran = []
        while name := self._apply_next(engine, until):
            ran.append(name)
        return tuple(ran)

    def _apply_next(self, engine: Engine, until: str | None) -> str | None:
        wanted = self.names() if until is None else self.names()[: self.names().index(until) + 1]
        if not set(wanted) & set(self.pending(engine)):
            return None
        with writing(engine) as connection:
            _RECORD.create(connection, checkfirst=True)
            done = _applied(connection)
            left = [name for name in self._pending(done) if name in wanted]
            if not left:
                return None
            self._steps[left[0]](connection)
            connection.execute(_RECORD.insert().values(position=len(done), name=left[0]))
            return left[0]

    def _pending(self, applied: tuple[str, ...]) -> tuple[str, ...]:
        if applied != self.names()[: len(applied)]:
            strange = next(
                (name for name in applied if name not in self._steps), "a changed order of steps"
            )
            raise MigrationError(
                tr(
                    "These records have been through '{strange}', which this Sitwell does not "
                    "know; open them with the newer Sitwell that wrote them.",
                    strange=strange,
                )
            )
        return self.names()[len(applied) :]


def _applied(connection: Connection) -> tuple[str, ...]:
    if not sa.inspect(connection).has_table(_RECORD.name):
        return ()
    rows = connection.execute(sa.select(_RECORD.c.name).order_by(_RECORD.c.position))
    return tuple(row.name for row in rows)
