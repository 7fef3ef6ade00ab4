"""Files that we wrote for a sitter outside the records: sheets, exports, proof pages."""

import hashlib
import re
import time
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from sitwell.base.words import tr
from sitwell.store.entries import OurFile, Sitter, Sitting
from sitwell.store.records import Records
from sitwell.store.schema import query_table

_SHEETS = (".pdf", ".png")
SORTED = "sort"  # what the lists and the proof sheet of a sorted folder are called
_HALF_WRITTEN_AGE_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """What became of one file: removed, or a sentence on why it is ``left`` or ``not_ours``."""

    path: str
    removed: bool = False
    left: str = ""
    not_ours: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """Which of our files went, and a sentence for each that did not."""

    removed: tuple[str, ...]
    left: tuple[str, ...]
    not_ours: tuple[str, ...]

    @classmethod
    def of(cls, fates: Iterable[Fate]) -> "Removal":
        """The fates of several files together."""
        known = tuple(fates)
        return cls(
            removed=tuple(fate.path for fate in known if fate.removed),
            left=tuple(fate.left for fate in known if fate.left),
            not_ours=tuple(fate.not_ours for fate in known if fate.not_ours),
        )


def remember_file(records: Records, sitter: Sitter, path: Path, what: str) -> OurFile:
    """Note a file that we have just written, so that forgetting this sitter removes it too."""
    kept = OurFile(sitter_id=sitter.id, what=what, path=str(path.absolute()), sha256=checksum(path))
    records.keep(kept)
    return kept


def sheets_of(records: Records, sitting: Sitting) -> dict[str, bytes]:
    """The sheets (PDF, PNG) that were written in a sitting, by name, as far as still as written.

    A file knows its sitter and its moment; it belongs to the latest sitting begun before it.
    """
    sitter = records.sitter_of(sitting)
    later = [s.at for s in records.all(Sitting, sitter) if s.at > sitting.at]
    sheets = {}
    for file in records.all(OurFile, sitter):
        path = Path(file.path)
        if file.what == SORTED:
            continue  # a proof sheet shows frames, and is no sheet of the set
        if file.at < sitting.at or (later and file.at >= min(later)) or path.suffix not in _SHEETS:
            continue
        if path.is_file() and checksum(path) == file.sha256:
            sheets[path.name] = path.read_bytes()
    return sheets


def remove_files(records: Records, files: tuple[OurFile, ...]) -> Removal:
    """Remove our files as far as they are still as we wrote them, and strike them off the list."""
    written = defaultdict(set)
    for file in files:
        written[file.path].add(file.sha256)
    fates = {path: remove_file(path, sums) for path, sums in written.items()}
    _strike_off(records, [file.id for file in files if not fates[file.path].left])
    return Removal.of(fates.values())


def remove_file(name: str, written: set[str]) -> Fate:
    """Remove a file whose checksum is one of those we wrote; one that is gone already is fine."""
    path = Path(name)
    try:
        _clear_half_written(path)
        if not path.exists():
            return Fate(path=name)
        if not path.is_file() or checksum(path) not in written:
            words = tr("{path} was changed since we wrote it; look at it and delete it.", path=path)
            return Fate(path=name, not_ours=words)
        path.unlink()
    except OSError as error:
        words = tr(
            "{path} could not be removed ({why}); close it and try again.",
            path=path,
            why=error.strerror,
        )
        return Fate(path=name, left=words)
    return Fate(path=name, removed=True)


def _clear_half_written(path: Path) -> None:
    """Remove what a killed run of ours left beside a file on the way to it."""
    form = re.compile(rf"\.{re.escape(path.stem)}-[a-z0-9_]{{8}}\.part{re.escape(path.suffix)}")
    for left in path.parent.glob(".*.part*"):
        if form.fullmatch(left.name) and time.time() - left.stat().st_mtime > _HALF_WRITTEN_AGE_S:
            left.unlink(missing_ok=True)


def checksum(path: Path) -> str:
    """The SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _strike_off(records: Records, ids: list[str]) -> None:
    table = query_table("files")
    with records.writing() as connection:
        connection.execute(table.delete().where(sa.column("id").in_(ids)))
