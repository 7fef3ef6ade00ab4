"""What sorting has read and what a person chose, in one SQLite file of our own.

A frame that was read is not read again, so a sort that was stopped goes on where it was; images
are never kept, only a few numbers for each face and a likeness of 256 bytes.
"""

import dataclasses
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import SortError
from sitwell.base.files import open_state
from sitwell.base.words import tr
from sitwell.shoot.frame_facts import Sight
from sitwell.shoot.journal import Stamp

_SCHEMA = """
CREATE TABLE IF NOT EXISTS frames (
  name BLOB PRIMARY KEY, master BLOB NOT NULL, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  lens TEXT NOT NULL, taken_s REAL, look BLOB NOT NULL, sights TEXT NOT NULL,
  problem TEXT NOT NULL, place INTEGER NOT NULL);
CREATE INDEX IF NOT EXISTS frames_by_time ON frames (taken_s IS NULL, taken_s, place);
CREATE TABLE IF NOT EXISTS choices (name BLOB PRIMARY KEY, choice REAL NOT NULL);
CREATE TEMP TABLE listed (name BLOB PRIMARY KEY);
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFrame:
    """One frame as it was read: a sight for each face, or the problem that kept it unread."""

    name: str
    master: str
    stamp: Stamp
    taken_s: float | None
    look: bytes = b""
    sights: tuple[Sight, ...] = ()
    problem: str = ""


class Index:
    """The read frames of one folder; ``lens`` names what they were read with (plan and head)."""

    def __init__(self, path: Path, lens: str) -> None:
        self._path, self._lens = path, lens
        try:
            self._database = open_state(path, _SCHEMA)
        except (sqlite3.Error, OSError) as error:
            raise SortError(
                tr(
                    "The index {file} can't be used ({error}); move it away to read the folder "
                    "anew.",
                    file=path,
                    error=error,
                )
            ) from error

    def close(self) -> None:
        """Close the file."""
        self._database.close()

    def has(self, name: str, stamp: Stamp) -> bool:
        """Whether this very file could be read already; it is part of the folder from now on."""
        key = os.fsencode(name)
        self._database.execute("INSERT OR IGNORE INTO listed VALUES (?)", (key,))
        sql = (
            "SELECT 1 FROM frames WHERE name=? AND size=? AND mtime_ns=? AND lens=? AND problem=''"
        )
        row = self._database.execute(sql, (key, stamp.size, stamp.mtime_ns, self._lens))
        return row.fetchone() is not None

    def add(self, frames: Iterable[tuple[int, ReadFrame]]) -> None:
        """Record frames with their place in the order of names, all or nothing."""
        try:
            with self._database as database:
                database.execute("BEGIN IMMEDIATE")
                database.executemany(
                    "INSERT OR REPLACE INTO frames VALUES (?,?,?,?,?,?,?,?,?,?)",
                    [self._row(place, frame) for place, frame in frames],
                )
        except sqlite3.Error as error:
            raise SortError(
                tr(
                    "The index {file} can't be written ({error}); make room on its disk and "
                    "sort again, which goes on from here.",
                    file=self._path,
                    error=error,
                )
            ) from error

    def frames(self) -> Iterator[ReadFrame]:
        """The frames of the folder that could be read, by time, those without one by name."""
        yield from self._select("problem = ''")

    def unread(self) -> Iterator[ReadFrame]:
        """The frames that could not be read, with their problems."""
        yield from self._select("problem != ''")

    def master(self, name: str) -> str | None:
        """The name of the file that a frame's sidecar belongs to, if the frame was read."""
        sql = "SELECT master FROM frames WHERE name = ?"
        row = self._database.execute(sql, (os.fsencode(name),)).fetchone()
        return os.fsdecode(row[0]) if row else None

    def choose(self, name: str, choice: float | None) -> None:
        """Remember a person's choice: above 0 chosen, below 0 set aside, None to take it back."""
        key = os.fsencode(name)
        if choice is None:
            self._database.execute("DELETE FROM choices WHERE name = ?", (key,))
        else:
            self._database.execute("INSERT OR REPLACE INTO choices VALUES (?, ?)", (key, choice))

    def choice(self, name: str) -> float | None:
        """What a person chose for a frame, if they did."""
        sql = "SELECT choice FROM choices WHERE name = ?"
        row = self._database.execute(sql, (os.fsencode(name),)).fetchone()
        return row[0] if row else None

    def _select(self, where: str) -> Iterator[ReadFrame]:
        rows = self._database.execute(
            "SELECT name, master, size, mtime_ns, taken_s, look, sights, problem FROM frames "
            f"WHERE lens = ? AND {where} AND name IN (SELECT name FROM listed) "
            "ORDER BY taken_s IS NULL, taken_s, place",
            (self._lens,),
        )
        for name, master, size, mtime_ns, taken_s, look, sights, problem in rows:
            yield ReadFrame(
                name=os.fsdecode(name),
                master=os.fsdecode(master),
                stamp=Stamp(size, mtime_ns),
                taken_s=taken_s,
                look=look,
                sights=tuple(Sight(**sight) for sight in json.loads(sights)),
                problem=problem,
            )

    def _row(self, place: int, frame: ReadFrame) -> tuple[object, ...]:
        return (
            os.fsencode(frame.name),
            os.fsencode(frame.master),
            frame.stamp.size,
            frame.stamp.mtime_ns,
            self._lens,
            frame.taken_s,
            frame.look,
            json.dumps([dataclasses.asdict(sight) for sight in frame.sights]),
            frame.problem.encode("utf-8", "backslashreplace").decode(),
            place,
        )
