"""Where our own files live, and the modes that keep other people on the machine out of them."""

import os
import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import platformdirs

HOME_VARIABLE = "SITWELL_HOME"
PART = ".sitwell-part-"
# A write that was cut short leaves its temporary file; an hour is longer than any write takes.
_LEFTOVER_AGE_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Every file and folder that Sitwell keeps for itself, all under ``home``."""

    home: Path

    @property
    def database(self) -> Path:
        """The records, as one SQLite file."""
        return self.home / "records.sqlite"

    @property
    def backups(self) -> Path:
        """Copies of the records that Sitwell made."""
        return self.home / "backups"

    @property
    def exports(self) -> Path:
        """Sittings written out as one file each, unless another folder was named."""
        return self.home / "exports"

    @property
    def logs(self) -> Path:
        """What happened, without any sitter in it."""
        return self.home / "logs"

    @property
    def cache(self) -> Path:
        """What can be computed again, one folder for each sitter."""
        return self.home / "cache"

    @property
    def frames(self) -> Path:
        """Readings of frames that belong to no one sitter."""
        return self.home / "frames"

    @property
    def papers(self) -> Path:
        """The working papers of the pages, one folder for each sitting."""
        return self.home / "sittings"

    def folders(self) -> tuple[Path, ...]:
        """The home and all folders in it."""
        return (self.home, self.backups, self.exports, self.logs, self.cache)


def default_home() -> Path:
    """The folder named by SITWELL_HOME, else this system's own folder for a person's data."""
    named = os.environ.get(HOME_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser().absolute()
    return platformdirs.user_data_path("sitwell", appauthor=False)


def make_places(home: Path | None = None) -> Places:
    """Make the folders, for the owner's eyes only, and clear what a cut-short write left.

    A folder that is there already keeps its mode, for others may use it; the files in it are
    closed to others one by one.
    """
    places = Places(home=(home or default_home()).absolute())
    for folder in places.folders():
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _clear_leftovers(folder)
    return places


def make_privately(path: Path, make: Callable[[Path], object]) -> Path:
    """Let ``make`` fill a file that only the owner may read, then rename it to ``path``.

    Unlike ``base.files.make_atomically`` the file never follows the person's umask.
    """
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, name = tempfile.mkstemp(prefix=PART, suffix=path.suffix, dir=path.parent)
    os.close(handle)
    temporary = Path(name)
    try:
        make(temporary)
        with temporary.open("rb+") as stream:
            os.fsync(stream.fileno())
        temporary.replace(path)
    finally:
        for left in path.parent.glob(f"{temporary.name}*"):
            left.unlink(missing_ok=True)
    return path


def touch_privately(path: Path) -> None:
    """Make an empty file that only the owner may read; SQLite gives its side files this mode."""
    path.touch(mode=0o600, exist_ok=True)
    path.chmod(0o600)


def _clear_leftovers(folder: Path) -> None:
    for left in folder.glob(f"{PART}*"):
        if time.time() - left.stat().st_mtime < _LEFTOVER_AGE_S:
            continue
        if left.is_dir():
            shutil.rmtree(left)
        else:
            left.unlink(missing_ok=True)
