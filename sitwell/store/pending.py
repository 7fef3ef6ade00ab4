"""Erasing in a folder of ours, where what would not go is never lost sight of.

A file that another program holds open, or that the disk refuses, is put on a list in that folder,
named to whoever asked, and tried again at each start.
"""

import contextlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.words import tr
from sitwell.store.places import make_privately

LIST = "still-to-erase.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """How many files went, and a sentence for each that is still there."""

    files: int = 0
    left: tuple[str, ...] = ()

    def __add__(self, other: "Gone") -> "Gone":
        """Both together."""
        return Gone(files=self.files + other.files, left=self.left + other.left)


@dataclass(frozen=True, slots=True)
class Pending:
    """The list of one folder: names in it that were to be erased and are still there."""

    folder: Path

    def erase(self, names: Iterable[str]) -> Gone:
        """Erase files or folders by their names in the folder; what stays is listed."""
        asked = tuple(names)
        gone = {name: erase_tree(self.folder / name) for name in asked}
        still = [name for name in self.names() if name not in gone]
        still += [name for name in asked if gone[name].left]
        self._write(still)
        return sum(gone.values(), Gone())

    def retry(self) -> Gone:
        """Try again what would not go before."""
        return self.erase(self.names())

    def names(self) -> tuple[str, ...]:
        """What is still to be erased."""
        try:
            listed = json.loads((self.folder / LIST).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return ()
        return tuple(filter(_is_inside, listed)) if isinstance(listed, list) else ()

    def sentences(self) -> tuple[str, ...]:
        """What is still to be erased, a sentence each."""
        return tuple(
            tr("{path} could not be erased yet; it is tried at each start.", path=path)
            for path in (self.folder / name for name in self.names())
        )

    def _write(self, names: list[str]) -> None:
        path = self.folder / LIST
        if not names:
            path.unlink(missing_ok=True)
            return
        text = json.dumps(sorted(set(names)))
        make_privately(path, lambda part: part.write_text(text, encoding="utf-8"))


def _is_inside(name: object) -> bool:
    """The list is a file like any other: it must not lead out of its folder."""
    if not isinstance(name, str) or not name:
        return False
    return not Path(name).is_absolute() and ".." not in Path(name).parts


def erase_tree(path: Path) -> Gone:
    """Erase a file, or a folder with all in it, as far as it goes; links are never followed."""
    if path.is_symlink() or not path.is_dir():
        return _erase_file(path)
    gone = Gone()
    for place, folders, files in os.walk(path, topdown=False):
        links = [name for name in folders if (Path(place) / name).is_symlink()]
        for name in (*files, *links):
            gone += _erase_file(Path(place) / name)
        with contextlib.suppress(OSError):  # whatever keeps it from going is named
            Path(place).rmdir()
    if path.exists() and not gone.left:
        gone += Gone(left=(_sentence(path, tr("a folder in it can't be opened")),))
    return gone


def _erase_file(path: Path) -> Gone:
    try:
        path.unlink()
    except FileNotFoundError:
        return Gone()
    except OSError as error:
        return Gone(left=(_sentence(path, error.strerror),))
    return Gone(files=1)


def _sentence(path: Path, why: str | None) -> str:
    return tr("{path} could not be removed ({why}); close it and try again.", path=path, why=why)
