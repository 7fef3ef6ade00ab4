"""Reading a zip that somebody else may have made: into memory, within limits, or not at all."""

import re
import stat
import zipfile
import zlib
from pathlib import Path

from sitwell.base.errors import TransferError
from sitwell.base.words import tr

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
        raise TransferError(
            tr("{file} can't be opened ({why}); check it.", file=path, why=error.strerror)
        ) from error
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, NotImplementedError) as error:
        raise TransferError(
            tr("{file} is damaged or no zip file; export it again.", file=path)
        ) from error


def check_name(name: str) -> None:
    """Refuse a name that could lead out of a folder, on any system."""
    for part in name.split("/"):
        if not _NAME.fullmatch(part) or part.endswith((".", " ")) or _DEVICES.fullmatch(part):
            raise TransferError(
                tr(
                    "The name {name} is not safe in a file; use plain letters, numbers and dots.",
                    name=repr(name),
                )
            )


def _check_sum(path: Path, entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > MOST_FILES:
        raise TransferError(
            tr(
                "{file} holds {count} files, over {most_files}; leave it.",
                file=path,
                count=len(entries),
                most_files=MOST_FILES,
            )
        )
    if len({entry.filename.casefold() for entry in entries}) != len(entries):
        raise TransferError(tr("{file} holds one name twice; export it again.", file=path))
    total = sum(entry.file_size for entry in entries)
    if total > MOST_BYTES:
        raise TransferError(
            tr(
                "{file} would unpack to {size} MB, over {most}; do not open it.",
                file=path,
                size=f"{total / 2**20:.0f}",
                most=f"{MOST_BYTES / 2**20:.0f}",
            )
        )


def _check_entry(entry: zipfile.ZipInfo) -> None:
    # zipfile cuts names at a NUL, turns backslashes on Windows and may take a second name from a
    # side field, so both the name as written and the name as taken must be safe.
    check_name(entry.filename)
    check_name(entry.orig_filename)
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in (0, stat.S_IFREG):
        raise TransferError(
            tr(
                "The entry '{filename}' is a link or no plain file; export it again.",
                filename=entry.filename,
            )
        )
    if entry.flag_bits & _ENCRYPTED or entry.compress_type not in _METHODS:
        raise TransferError(
            tr(
                "The entry '{filename}' is packed in an unknown way; pack it plainly.",
                filename=entry.filename,
            )
        )
    squeezed = max(entry.compress_size, 1)
    if entry.file_size > _SMALL_BYTES and entry.file_size / squeezed > MOST_RATIO:
        raise TransferError(
            tr(
                "The entry '{filename}' is squeezed {times} times, over {most}; do not open it.",
                filename=entry.filename,
                times=f"{entry.file_size / squeezed:.0f}",
                most=MOST_RATIO,
            )
        )


def _read(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    # The declared size may lie: read no more than it and let the checksum judge.
    with archive.open(entry) as stream:
        content = stream.read(entry.file_size + 1)
    if len(content) != entry.file_size:
        raise TransferError(
            tr(
                "The entry '{filename}' is not as long as it says; leave it.",
                filename=entry.filename,
            )
        )
    return content
