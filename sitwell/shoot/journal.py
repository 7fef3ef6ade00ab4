"""What a watched folder has already given, kept in our own state folder as one SQLite file.

A frame and the report on it are written in one transaction: after a crash a frame is either
recorded with its report or handed out again, so that none is lost and none is recorded twice.
"""

import contextlib
import hashlib
import os
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sitwell.base.errors import ShootError
from sitwell.base.files import open_regular, open_state
from sitwell.base.words import tr
from sitwell.shoot.frames import Frame, stem_of

_ENDS_BYTES = 1 << 16
# Names are bytes because a file's name need not be text.
_SCHEMA = """
CREATE TABLE IF NOT EXISTS frames (
  id INTEGER PRIMARY KEY, name BLOB NOT NULL, taken TEXT, report TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS files (
  name BLOB PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  print BLOB NOT NULL, stem BLOB NOT NULL, frame INTEGER NOT NULL REFERENCES frames);
CREATE INDEX IF NOT EXISTS files_by_stem ON files (stem);
CREATE INDEX IF NOT EXISTS files_by_print ON files (print);
CREATE INDEX IF NOT EXISTS files_by_size ON files (size);
"""


@dataclass(frozen=True, slots=True)
class Stamp:
    """A file's size in bytes and when it was last changed, in nanoseconds."""

    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One recorded frame: its name in the folder, when it was taken, and the report on it."""

    name: str
    taken: datetime | None
    report: str


def journal_path(state: Path, folder: Path) -> Path:
    """Where the journal of one watched folder lies inside our own state folder."""
    digest = hashlib.blake2b(os.fsencode(folder.absolute()), digest_size=8).hexdigest()
    return state / f"watch-{digest}.sqlite"


def stamp_of(path: Path) -> Stamp | None:
    """A file's stamp, or None where there is no such file now."""
    try:
        status = path.stat()
    except OSError:
        return None
    return Stamp(status.st_size, status.st_mtime_ns)


def print_of(path: Path) -> bytes:
    """A mark of a file's content: its size and both its ends. Two frames never share these."""
    with open_regular(path) as stream:
        size = stream.seek(0, os.SEEK_END)
        stream.seek(0)
        digest = hashlib.blake2b(stream.read(_ENDS_BYTES), digest_size=16)
        stream.seek(max(0, size - _ENDS_BYTES))
        digest.update(stream.read(_ENDS_BYTES) + size.to_bytes(8, "big"))
    return digest.digest()


class Journal:
    """The record of one watched folder; opened again after a crash it knows what was done."""

    def __init__(self, path: Path, folder: Path) -> None:
        self._path, self._folder = path, folder.absolute()
        try:
            self._database = open_state(path, _SCHEMA)
        except (sqlite3.Error, OSError) as error:
            raise ShootError(
                tr(
                    "The journal {file} can't be used ({error}); move it away to begin a new one.",
                    file=path,
                    error=error,
                )
            ) from error

    def close(self) -> None:
        """Close the file."""
        self._database.close()

    def stamps(self) -> dict[bytes, Stamp]:
        """The stamp of every file that is done, by its name."""
        rows = self._database.execute("SELECT name, size, mtime_ns FROM files")
        return {name: Stamp(size, mtime_ns) for name, size, mtime_ns in rows}

    def name_of(self, path: Path) -> bytes:
        """A file's name in the folder, as bytes."""
        return os.fsencode(path.absolute().relative_to(self._folder))

    def has_size(self, size: int) -> bool:
        """Whether any done file has this size; only then can the content be a known one."""
        sql = "SELECT 1 FROM files WHERE size = ? LIMIT 1"
        return self._database.execute(sql, (size,)).fetchone() is not None

    def has_content(self, content: bytes) -> bool:
        """Whether a file of this content is done, under whatever name."""
        sql = "SELECT 1 FROM files WHERE print = ? LIMIT 1"
        return self._database.execute(sql, (content,)).fetchone() is not None

    def partners(self, path: Path) -> Iterator[tuple[int, Path, datetime | None]]:
        """Done frames whose file shares the stem of ``path``: id, file, when taken."""
        sql = """SELECT frames.id, files.name, frames.taken FROM files
                 JOIN frames ON frames.id = files.frame WHERE stem = ?"""
        for number, name, taken in self._database.execute(sql, (self._stem(path),)).fetchall():
            yield number, self._folder / os.fsdecode(name), _time(taken)

    def done(self, frame: Frame, report: str, content: dict[Path, tuple[Stamp, bytes]]) -> None:
        """Record a frame, its report and its files as they were read, all or nothing."""
        taken = frame.taken.isoformat() if frame.taken else None
        # A report may quote a file name that is no text, which SQLite would refuse.
        report = report.encode("utf-8", "backslashreplace").decode()
        with self._writing() as database:
            number = database.execute(
                "INSERT INTO frames (name, taken, report) VALUES (?, ?, ?)",
                (self.name_of(frame.path), taken, report),
            ).lastrowid
            self._put_files(number or 0, content)

    def attach(self, number: int, content: dict[Path, tuple[Stamp, bytes]]) -> None:
        """Record files that belong to a frame that is done already."""
        with self._writing():
            self._put_files(number, content)

    def know(self, path: Path, stamp: Stamp, content: bytes) -> None:
        """Record a further name or a new stamp of content that is done already."""
        sql = "SELECT frame FROM files WHERE print = ? LIMIT 1"
        row = self._database.execute(sql, (content,)).fetchone()
        if row:
            self.attach(row[0], {path: (stamp, content)})

    def entries(self) -> Iterator[Entry]:
        """Every recorded frame in the order of recording."""
        rows = self._database.execute("SELECT name, taken, report FROM frames ORDER BY id")
        for name, taken, report in rows:
            yield Entry(name=os.fsdecode(name), taken=_time(taken), report=report)

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        try:
            with self._database as database:
                database.execute("BEGIN IMMEDIATE")
                yield database
        except sqlite3.Error as error:
            raise ShootError(
                tr(
                    "The journal {file} can't be written ({error}); make room on its disk and "
                    "watch again, which goes on from here.",
                    file=self._path,
                    error=error,
                )
            ) from error

    def _put_files(self, number: int, content: dict[Path, tuple[Stamp, bytes]]) -> None:
        rows: Iterable[tuple[object, ...]] = [
            (self.name_of(path), stamp.size, stamp.mtime_ns, mark, self._stem(path), number)
            for path, (stamp, mark) in content.items()
        ]
        sql = "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?, ?)"
        self._database.executemany(sql, rows)

    def _stem(self, path: Path) -> bytes:
        folder, stem = stem_of(path)
        return os.fsencode(folder.absolute().relative_to(self._folder) / stem)


def _time(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None
