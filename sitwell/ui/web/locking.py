"""The records' seal over the papers as well: opened by the passphrase, put on what lies idle."""

import contextlib
from pathlib import Path

from sitwell.base.errors import SealError
from sitwell.ui.web.server_state import ServerState


def unlock(server: ServerState, passphrase: str) -> None:
    """Open the seal of records and papers, for as long as the pages are open; else SealError."""
    server.door.passphrase = passphrase
    try:
        server.shelf.take_seal(server.door.open_seal())
    except SealError:
        server.door.passphrase = ""
        raise


def restore(server: ServerState, backup: Path) -> Path:
    """Go back to a backup; gives where the records of before were backed up."""
    before = server.door.restore(backup, server.door.passphrase, server.shelf)
    with contextlib.suppress(SealError):  # the backup's own passphrase is asked for
        server.shelf.take_seal(server.door.open_seal())
    return before


def in_clear(server: ServerState) -> bool:
    """Whether the records are sealed, and what is written here is not, for want of the words.

    Then sealed papers can't be opened either.
    """
    return server.shelf.seal is None and server.door.is_sealed()


def rest(server: ServerState) -> None:
    """Put away what nobody works on, and erase again what work under way made anew."""
    server.shelf.erase_again()
    for sitting_id in server.shelf.idle():
        if not server.at_work(sitting_id):
            server.shelf.put_away(sitting_id)
