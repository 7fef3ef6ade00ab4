"""The records' seal over the papers as well: opened by the passphrase, put on what lies idle."""

import contextlib
from pathlib import Path

from sitwell.base.errors import SealError
from sitwell.ui.web.house import House


def unlock(house: House, passphrase: str) -> None:
    """Open the seal of records and papers, for as long as the pages are open; else SealError."""
    house.door.passphrase = passphrase
    try:
        house.shelf.take_seal(house.door.open_seal())
    except SealError:
        house.door.passphrase = ""
        raise


def restore(house: House, backup: Path) -> Path:
    """Go back to a backup; gives where the records of before were backed up."""
    before = house.door.restore(backup, house.door.passphrase, house.shelf)
    with contextlib.suppress(SealError):  # the backup's own passphrase is asked for
        house.shelf.take_seal(house.door.open_seal())
    return before


def in_clear(house: House) -> bool:
    """Whether the records are sealed, and what is written here is not, for want of the words.

    Then sealed papers can't be opened either.
    """
    return house.shelf.seal is None and house.door.is_sealed()


def rest(house: House) -> None:
    """Put away what nobody works on, and erase again what work under way made anew."""
    house.shelf.erase_again()
    for sitting_id in house.shelf.idle():
        if not house.at_work(sitting_id):
            house.shelf.put_away(sitting_id)
