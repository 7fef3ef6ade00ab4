"""Put a file in the place of one whose content is known, and of no other.

Programs that know nothing of each other write the same sidecar, and no lock of ours stops them.
On Linux the two files are therefore exchanged in one step (``renameat2``), and what came out is
looked at: where it is not what we merged into, it goes back. Elsewhere the content is compared
right before the renaming, and what another program writes between the two (some microseconds)
is lost.
"""

import contextlib
import ctypes
import errno
import os
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from sitwell.base.files import flush_to_disk, own_mode

# A lock is held while two files are compared and renamed; one this old was left by a killed run.
STALE_LOCK_S = 10.0
WRITER_PATIENCE_S = 2.0
_PAUSE_S = 0.002
_AT_FDCWD, _NOREPLACE, _EXCHANGE = -100, 1, 2  # linux/fcntl.h, linux/fs.h
_CANT = (errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP, errno.EPERM)


def replace_known(path: Path, before: bytes | None, data: bytes) -> bool:
    """Write ``data`` to ``path`` where ``before`` is its content (None: there is no file).

    False where it holds something else by now, which is then still there. Writers that use this
    function stand in line by a lock file beside ``path``. OSError where the folder can't be
    written in.
    """
    mode = own_mode() if before is None else path.stat().st_mode & 0o777
    temporary = _written(path, data, mode)
    try:
        with _line(path):
            if _content(path) != before:
                return False
            if before is None:
                return _put_new(temporary, path)
            return _put_over(temporary, path, before, data)
    except FileNotFoundError:
        return False  # it was taken away between the look and the step
    finally:
        temporary.unlink(missing_ok=True)


def lock_of(path: Path) -> Path:
    """The file that says that ``path`` is being replaced."""
    return path.with_name(f".{path.name}.sitwell-lock")


def _written(path: Path, data: bytes, mode: int) -> Path:
    handle, name = tempfile.mkstemp(
        prefix=f".{path.stem}-", suffix=f".part{path.suffix}", dir=path.parent
    )
    os.close(handle)
    temporary = Path(name)
    try:
        temporary.write_bytes(data)
        flush_to_disk(temporary)
        temporary.chmod(mode)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


@contextlib.contextmanager
def _line(path: Path) -> Iterator[None]:
    """Alone among our own; a lock that a killed run left is taken away."""
    lock = lock_of(path)
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            break
        except FileExistsError:
            with contextlib.suppress(FileNotFoundError):
                if abs(time.time() - lock.stat().st_mtime) > STALE_LOCK_S:
                    lock.unlink()
                    continue
            time.sleep(_PAUSE_S)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _put_new(temporary: Path, path: Path) -> bool:
    if _rename(temporary, path, _NOREPLACE):
        return True
    if path.exists():
        return False
    try:
        os.link(temporary, path)
    except FileExistsError:
        return False
    except (OSError, AttributeError, NotImplementedError):
        temporary.replace(path)  # a disk without links, such as a card's
    return True


def _put_over(temporary: Path, path: Path, before: bytes, data: bytes) -> bool:
    if not _rename(temporary, path, _EXCHANGE):
        temporary.replace(path)
        return True
    if _settled(temporary) == before:
        return True
    # Somebody wrote in between. Theirs goes back; should they have written over ours meanwhile,
    # that is the newest, and goes back in its turn.
    placed = data
    while True:
        theirs = _content(temporary) or b""
        try:
            _rename(temporary, path, _EXCHANGE)
        except FileNotFoundError:
            _rename(temporary, path, _NOREPLACE)  # they took ours away
            return False
        if _settled(temporary) == placed:
            return False
        placed = theirs


def _settled(path: Path) -> bytes | None:
    """The content once nobody has the file open for writing; None where somebody holds on to it.

    A program that opened the file before the exchange still writes into it, under any name.
    """
    until = time.monotonic() + WRITER_PATIENCE_S
    while _is_being_written(path):
        if time.monotonic() > until:
            return None
        time.sleep(_PAUSE_S)
    return _content(path)


def _is_being_written(path: Path) -> bool:
    """Whether any program has a file of this name open for writing, by asking for a lease."""
    import fcntl

    with path.open("rb") as stream:
        try:
            # What breaks a lease is told by a signal whose default would end this program.
            fcntl.fcntl(stream, fcntl.F_SETSIG, signal.SIGURG)
            fcntl.fcntl(stream, fcntl.F_SETLEASE, fcntl.F_RDLCK)
            fcntl.fcntl(stream, fcntl.F_SETLEASE, fcntl.F_UNLCK)
        except OSError as error:
            return error.errno == errno.EAGAIN  # else the disk grants no leases
    return False


def _rename(source: Path, target: Path, how: int) -> bool:
    """Rename in one step as the kernel offers it; False where it, or the disk, does not."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        step = ctypes.CDLL(None, use_errno=True).renameat2
    except AttributeError:
        return False
    if step(_AT_FDCWD, os.fsencode(source), _AT_FDCWD, os.fsencode(target), how) == 0:
        return True
    number = ctypes.get_errno()
    if number in _CANT or number == errno.EEXIST:
        return False
    raise OSError(number, os.strerror(number), str(target))
