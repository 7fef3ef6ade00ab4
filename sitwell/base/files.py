"""Our own files: written so that a reader sees the whole file or none of it, and state kept."""

import os
import sqlite3
import stat
import tempfile
from collections.abc import Callable
from io import FileIO
from pathlib import Path

_NEVER_WAIT = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)


def write_atomically(path: Path, content: bytes | str) -> Path:
    """Write ``content`` beside ``path`` under a temporary name, then rename it into place."""
    data = content.encode("utf-8") if isinstance(content, str) else content
    return make_atomically(path, lambda temporary: temporary.write_bytes(data))


def make_atomically(path: Path, make: Callable[[Path], object]) -> Path:
    """Let ``make`` write a temporary file beside ``path``, then rename it into place.

    The temporary file keeps the suffix of ``path``, because writers choose the format by it,
    and it is removed when ``make`` fails.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(
        prefix=f".{path.stem}-", suffix=f".part{path.suffix}", dir=path.parent
    )
    os.close(handle)
    temporary = Path(name)
    try:
        make(temporary)
        flush_to_disk(temporary)
        temporary.chmod(own_mode())
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
    return path


def open_regular(path: Path) -> FileIO:
    """A file opened for reading, without a buffer; OSError where it is a pipe, socket or device.

    Such a thing is never waited for: to open a pipe that nobody writes would take for ever.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError(f"{path.name} is no regular file")
    stream = FileIO(path, opener=lambda name, how: os.open(name, how | _NEVER_WAIT))
    if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):  # it was changed meanwhile
        stream.close()
        raise OSError(f"{path.name} is no regular file")
    return stream


def open_state(path: Path, schema: str) -> sqlite3.Connection:
    """Our own SQLite file at ``path``, for its owner's eyes, with its tables in place.

    Every statement is committed by itself, so that a crash loses at most the one under way.
    Raises sqlite3.Error or OSError where it can't be used.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(mode=0o600)
    database = sqlite3.connect(path, isolation_level=None, timeout=10)
    database.execute("PRAGMA journal_mode=WAL")
    database.executescript(schema)
    return database


def flush_to_disk(path: Path) -> None:
    """Wait until what was written is on the disk."""
    with path.open("rb+") as stream:
        os.fsync(stream.fileno())


def own_mode() -> int:
    """The mode of a new file that follows the person's own umask, which temporary ones don't."""
    mask = os.umask(0)  # it can only be read by setting it
    os.umask(mask)
    return 0o666 & ~mask
