"""What we wrote for nobody in the records: plans and sheets by a list, readings for some days.

A plan may be printed for a sitter who is in no record. The list holds where such files lie and
their checksums, nothing of the sitter, and lies beside the records, so that no passphrase is
needed to add to it. Readings of frames let watching and sorting go on where they stopped; nobody
said yes to them, so they go soon.
"""

import contextlib
import json
import os
import tempfile
import time
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from sitwell.base.words import tr
from sitwell.store.entries import now
from sitwell.store.files import Removal, checksum, remove_file
from sitwell.store.pending import erase_tree
from sitwell.store.places import Places, make_privately, touch_privately

_LIST = "loose-files.jsonl"
_ASKED = "to be erased"
_DESKS = ("sitwell-sheet-", "sitwell-proof-")  # where sheets and proof sheets are laid out
_LEFTOVER_AGE_S = 3600.0
# Our own choice: long enough to finish sorting a sitting, and no longer than that.
READINGS_TERM_DAYS = 7


def note_loose(places: Places, files: Sequence[Path]) -> None:
    """Add files that have just been written to the list."""
    path = places.home / _LIST
    touch_privately(path)
    rows = [[str(file.absolute()), checksum(file)] for file in files]
    with path.open("a", encoding="utf-8") as stream:
        stream.writelines(json.dumps(row) + "\n" for row in rows)


def forget_loose(places: Places, *, again: bool = False) -> Removal:
    """Remove every listed file that is still as we wrote it; what could not go stays listed.

    ``again`` goes only through what could not go before, as is done at each start.
    """
    path = places.home / _LIST
    written, asked = _written(path), _asked(path)
    gone = [remove_file(name, sums) for name, sums in written.items() if name in asked or not again]
    left = {fate.path for fate in gone if fate.left}
    done = {fate.path for fate in gone} - left
    rows = [
        [name, each, _ASKED] if name in left else [name, each]
        for name, sums in written.items()
        for each in sorted(sums)
        if name not in done
    ]
    text = "".join(json.dumps(row) + "\n" for row in rows)
    if gone:
        make_privately(path, lambda part: part.write_text(text, encoding="utf-8"))
    return Removal.of(gone)


def sweep_readings(places: Places, at: datetime | None = None) -> int:
    """Remove readings of frames that nothing has touched for the term; gives how many files."""
    ends = (at or now()).timestamp() - timedelta(days=READINGS_TERM_DAYS).total_seconds()
    gone = 0
    for index in places.frames.glob("*.sqlite"):
        # Its write-ahead log is touched first, so all that belongs together is judged together.
        together = tuple(places.frames.glob(f"{index.name}*"))
        try:
            if max(path.stat().st_mtime for path in together) < ends:
                for path in together:
                    path.unlink()
                gone += len(together)
        except OSError:
            continue  # in use, or gone meanwhile: the next sweep looks again
    return gone


def sweep_temporary() -> None:
    """Remove what a killed run left in the system's temporary folder: a likeness, half drawn."""
    long_ago = time.time() - _LEFTOVER_AGE_S
    for folder in Path(tempfile.gettempdir()).glob("sitwell-*"):
        with contextlib.suppress(OSError):
            known = folder.name.startswith(_DESKS) and not folder.is_symlink()
            ours = not hasattr(os, "getuid") or folder.stat().st_uid == os.getuid()
            if known and ours and folder.stat().st_mtime < long_ago:
                erase_tree(folder)


def may_be_theirs(places: Places, label: str) -> tuple[str, ...]:
    """A sentence for each of nobody's files that may be those of a sitter so called.

    Their paths hold the label, or readings of frames whose names do; whose they are was never
    written down, so they are named and not erased.
    """
    sought = label.strip().casefold()
    paths = [name for name in _written(places.home / _LIST) if sought in name.casefold()]
    for index in sorted(places.frames.glob("*.sqlite*")):
        if sought.encode() in index.read_bytes().lower():
            paths.append(str(index))
    return tuple(
        tr("{path} may be theirs; sitwell forget --frames erases it.", path=path)
        for path in paths
        if Path(path).exists()
    )


def _written(path: Path) -> dict[str, set[str]]:
    """Every listed file with the checksums it was written with."""
    found = defaultdict(set)
    for name, sha256, *_ in _rows(path):
        found[name].add(sha256)
    return found


def _asked(path: Path) -> set[str]:
    """The listed files that were to go and could not."""
    return {name for name, _, *asked in _rows(path) if asked}


def _rows(path: Path) -> list[list[str]]:
    rows = []
    for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
        try:
            row = json.loads(line)
        except ValueError:
            continue  # a line that was cut short by a crash
        if isinstance(row, list) and len(row) > 1:
            rows.append([str(part) for part in row])
    return rows
