"""Records on a PostgreSQL server: how it is reached, and what its refusals mean."""

import ssl
from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from sitwell.base.errors import StoreError
from sitwell.base.words import tr

DRIVER = "postgresql+pg8000"
_SSL_MODES = ("disable", "prefer", "require", "verify-full")


def connect_server(address: sa.URL) -> Engine:
    """An engine for a ``postgresql://`` address; ``?sslmode=verify-full`` checks who answers.

    The modes are those of PostgreSQL's own clients; without one the line is sealed where the
    server can, and nobody's certificate is checked.
    """
    extra = set(address.query) - {"sslmode"}
    mode = str(address.query.get("sslmode", "prefer"))
    if extra or mode not in _SSL_MODES:
        raise StoreError(
            tr(
                "The database address asks for '{option}', which is not known; after the ? give "
                "only sslmode={known}.",
                option=sorted(extra)[0] if extra else mode,
                known="|".join(_SSL_MODES),
            )
        )
    bare = address.set(drivername=DRIVER, query={})
    try:
        # An error or a log line must never carry a sitter's values.
        return sa.create_engine(
            bare, connect_args={"ssl_context": _ssl_context(mode)}, hide_parameters=True
        )
    except ImportError as error:
        raise StoreError(
            tr("The PostgreSQL driver is not installed; pip install sitwell[postgres].")
        ) from error


def server_state(error: SQLAlchemyError) -> str:
    """The server's own five-letter code for what went wrong; empty where there is none."""
    return str(_told(error).get("C", ""))


def reason(error: SQLAlchemyError) -> str:
    """What went wrong, in the driver's own words: one line, without the values it was about."""
    inner = getattr(error, "orig", None) or error
    words = str(_told(error).get("M") or inner)
    return words.strip().split("\n")[0].rstrip(".")


def _told(error: SQLAlchemyError) -> Mapping[str, str]:
    # The driver hands the server's fields over as one mapping; the detail field holds values.
    arguments = getattr(getattr(error, "orig", None), "args", ())
    return arguments[0] if arguments and isinstance(arguments[0], dict) else {}


def _ssl_context(mode: str) -> ssl.SSLContext | bool | None:
    checked = ssl.create_default_context() if mode == "verify-full" else None
    return {"disable": False, "prefer": None, "require": True}.get(mode, checked)
