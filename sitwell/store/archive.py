"""Reading a zip that somebody else may have made: into memory, within limits, or not at all."""

import re
import stat
import zipfile
import zlib
from pathlib import Path

from sitwell.base.errors import TransferError

# Far above any sitting (a plan is tens of kilobytes, a sheet a few megabytes), and small enough
# that a hostile file costs seconds and not the machine.
MOST_FILES = 200
MOST_BYTES = 256 * 1024 * 1024
MOST_RATIO = 100
_SMALL_BYTES = 64 * 1024  # under this size a high ratio does no harm
_NAME = re.compile(r"[^\W_][\w .()+,&'=@-]*")
# Names that Windows takes for devices, whatever their suffix.
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1


def read_archive(path: Path) -> dict[str, bytes]:
    """All files of a zip by name; one that is not harmless is a TransferError."""
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
            _check_sum(path, entries)
            for entry in entries:
                _check_entry(entry)
            return {entry.filename: _read(archive, entry) for entry in entries}
    except OSError as error:
        raise TransferError(f"{path} can't be opened ({error.strerror}); check it.") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, NotImplementedError) as error:
        raise TransferError(f"{path} is damaged or no zip file; export it again.") from error


def check_name(name: str) -> None:
    """Refuse a name that could lead out of a folder, on any system."""
    for part in name.split("/"):
        if not _NAME.fullmatch(part) or part.endswith((".", " ")) or _DEVICES.fullmatch(part):
            raise TransferError(
                f"The name {name!r} is not safe in a file; use plain letters, numbers and dots."
            )


def _check_sum(path: Path, entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > MOST_FILES:
        raise TransferError(f"{path} holds {len(entries)} files, over {MOST_FILES}; leave it.")
    if len({entry.filename.casefold() for entry in entries}) != len(entries):
        raise TransferError(f"{path} holds one name twice; export it again.")
    total = sum(entry.file_size for entry in entries)
    if total > MOST_BYTES:
        raise TransferError(
            f"{path} would unpack to {total / 2**20:.0f} MB, over {MOST_BYTES / 2**20:.0f}; "
            "do not open it."
        )


def _check_entry(entry: zipfile.ZipInfo) -> None:
    # zipfile cuts names at a NUL, turns backslashes on Windows and may take a second name from a
    # side field, so both the name as written and the name as taken must be safe.
    check_name(entry.filename)
    check_name(entry.orig_filename)
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG):
        raise TransferError(
            f"The entry '{entry.filename}' is a link or no plain file; export it again."
        )
    if entry.flag_bits & _ENCRYPTED or entry.compress_type not in _METHODS:
        raise TransferError(
            f"The entry '{entry.filename}' is packed in an unknown way; pack it plainly."
        )
    squeezed = max(entry.compress_size, 1)
    if entry.file_size > _SMALL_BYTES and entry.file_size / squeezed > MOST_RATIO:
        raise TransferError(
            f"The entry '{entry.filename}' is squeezed {entry.file_size / squeezed:.0f} times, "
            f"over {MOST_RATIO}; do not open it."
        )


def _read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    # The declared size may lie: read no more than it and let the checksum judge.
    with archive.open(entry) as stream:
        content = stream.read(entry.file_size + 1)
    if len(content) != entry.file_size:
        raise TransferError(f"The entry '{entry.filename}' is not as long as it says; leave it.")
    return content
