"""Terms that end while the pages stay open: papers and records go on their day."""

import asyncio
import logging
from datetime import datetime

from sitwell.base.errors import SitwellError
from sitwell.ui.web.locking import rest
from sitwell.ui.web.server_state import ServerState

EVERY_S = 3600.0
REST_EVERY_S = 300.0
_LOG = logging.getLogger("sitwell.ui")


async def keep_terms(server: ServerState) -> None:
    """Erase what has come to its end, at the start and then every hour."""
    while True:
        await end_terms(server)
        await asyncio.sleep(EVERY_S)


async def keep_order(server: ServerState) -> None:
    """Put away, every few minutes, the papers that nobody works on.

    What another program has erased meanwhile goes from memory as well.
    """
    while True:
        await asyncio.sleep(REST_EVERY_S)
        forget_lost(server)
        await asyncio.to_thread(rest, server)


def forget_lost(server: ServerState) -> None:
    """Drop what is in memory of sittings that the command line, say, has erased."""
    for sitting_id in server.shelf.lost():
        server.forget(sitting_id)


async def end_terms(server: ServerState, at: datetime | None = None) -> None:
    """Erase papers whose day has passed, with all that is in memory, and sweep the records.

    Sealed records can only be swept by somebody who has opened them.
    """
    moment = at or datetime.now().astimezone()
    today = moment.date()
    for sitting_id in server.shelf.ended(today):
        server.forget(sitting_id)
    server.shelf.erase_expired(today)
    try:
        await asyncio.to_thread(server.door.sweep, moment)
    except SitwellError as error:
        _LOG.warning("the records could not be swept", exc_info=error)
