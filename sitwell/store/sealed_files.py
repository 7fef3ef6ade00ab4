"""Files outside the records under the same seal: each sealed whole, in its own place and name.

A sealed file is bound to its place below the folder of all, so that one can't be passed off as
another. It takes the plain one's place by renaming; what the disk keeps of the plain one is the
disk's, as after any erasure.
"""

import os
from collections.abc import Iterator
from pathlib import Path

from sitwell.base.errors import SealError
from sitwell.base.words import tr
from sitwell.store.places import make_privately
from sitwell.store.sealed import Seal

# No photograph, JSON or database begins so.
_BEGINS = b"sitwell sealed file 1\n"


def sealed(plain: bytes, where: str, seal: Seal | None) -> bytes:
    """What to write in the place ``where``: sealed, or as it is where nothing is sealed."""
    return plain if seal is None else _BEGINS + seal.close(plain, where)


def open_bytes(content: bytes, where: str, seal: Seal | None) -> bytes:
    """The plain content of what was read at ``where``.

    SealError where the seal is not open, or the content was altered or moved.
    """
    if not content.startswith(_BEGINS):
        return content
    if seal is None:
        raise SealError(
            tr("These papers are sealed; give the passphrase of the records on the first page.")
        )
    return seal.open(content[len(_BEGINS) :], where)


def is_sealed_file(path: Path) -> bool:
    """Whether a file is sealed; one that is not there is not."""
    try:
        with path.open("rb") as stream:
            return stream.read(len(_BEGINS)) == _BEGINS
    except OSError:
        return False


def seal_folder(folder: Path, seal: Seal, leave: tuple[str, ...]) -> None:
    """Seal every file in a folder but those of the names to leave; safe to run again."""
    for path, where in _files(folder, leave):
        if not is_sealed_file(path):
            _replace(path, sealed(path.read_bytes(), where, seal))


def open_folder(folder: Path, seal: Seal | None, leave: tuple[str, ...]) -> None:
    """Put every sealed file in a folder back in clear; SealError where it can't be."""
    for path, where in _files(folder, leave):
        if is_sealed_file(path):
            _replace(path, open_bytes(path.read_bytes(), where, seal))


def _files(folder: Path, leave: tuple[str, ...]) -> Iterator[tuple[Path, str]]:
    for place, _, names in os.walk(folder):
        for path in (Path(place) / name for name in sorted(names) if name not in leave):
            if path.is_file() and not path.is_symlink():
                yield path, path.relative_to(folder.parent).as_posix()


def _replace(path: Path, content: bytes) -> None:
    make_privately(path, lambda part: part.write_bytes(content))
