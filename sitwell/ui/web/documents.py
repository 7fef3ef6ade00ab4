"""The working papers of a sitting: one JSON document and one folder of frames each.

The server holds one copy of a sitting, which every tab works on, so two tabs can't overwrite each
other's fields: each change touches its own field, the latest change of a field counts, and every
other tab is told. A document is written to a temporary name and renamed, a moment after a change.
Should another program have written the file meanwhile, its version is kept beside ours.
"""

import asyncio
import dataclasses
import json
import re
import secrets
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from sitwell.base.errors import WebError
from sitwell.base.files import write_atomically
from sitwell.base.words import tr

SAVE_AFTER_S = 0.25
SITTING_ID = re.compile(r"[0-9a-f]{12}")
FRAME_ID = re.compile(r"[0-9a-f]{8}")
PAPER = "sitting.json"


@dataclass(slots=True, kw_only=True)
class FrameNote:
    """One test frame: our copy in the sitting's folder, and what the photographer called it.

    ``marks`` are positions in full-size upright pixels by name, the ridge as a list of them.
    """

    id: str
    file: str
    name: str
    width_px: int = 0
    height_px: int = 0
    marks: dict[str, Any] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class SitterNote:
    """One sitter: a label, wishes (feature to direction and weight), limits, frames."""

    label: str = ""
    glasses: bool = False
    hair: str = "full"
    height_mm: float = 0.0  # of the body, 0 where nobody asked; counts where several stand together
    wishes: dict[str, list[Any]] = field(default_factory=dict)
    limits: list[str] = field(default_factory=list)
    frames: list[FrameNote] = field(default_factory=list)
    # The set-up in hand: which of the three, what was moved by hand, what is held fast.
    chosen: str = ""
    moved: dict[str, dict[str, Any]] = field(default_factory=dict)
    locked: list[str] = field(default_factory=list)
    # The frame that is the sitter's own level zero, and what the plan was made from.
    level: str = ""
    planned: str = ""
    head_of: str = ""


@dataclass(slots=True, kw_only=True)
class Sitting:
    """One sitting's working papers; times are UTC in ISO form."""

    id: str
    revision: int = 0
    created: str = ""
    label: str = ""
    consent_at: str = ""
    consent_by: str = "sitter"
    keep_days: int = 0
    keep_wishes: bool = False
    asked: list[str] = field(default_factory=list)
    kit: str = "full-frame-primes"
    rim_light: bool = False
    room: str = "studio"
    own_kit: dict[str, Any] = field(default_factory=dict)
    own_room: dict[str, Any] = field(default_factory=dict)
    framing: str = "head-and-shoulders"
    aspect: str = "4:5"
    sitters: list[SitterNote] = field(default_factory=lambda: [SitterNote()])
    at: int = 0
    # What several wish about their difference in height: direction and weight.
    heights: list[Any] = field(default_factory=lambda: ["leave", 2])
    folder: str = ""

    @property
    def sitter(self) -> SitterNote:
        """The sitter in hand."""
        return self.sitters[min(self.at, len(self.sitters) - 1)]

    @property
    def keep_until(self) -> date:
        """The last day these papers are kept."""
        return self.begun_on + timedelta(self.keep_days)

    @property
    def begun_on(self) -> date:
        """The day the sitting was begun, here."""
        return datetime.fromisoformat(self.created).astimezone().date()

    def title(self) -> str:
        """What the sitting is called, or the day it was begun."""
        day = datetime.fromisoformat(self.created).astimezone()
        return self.label or f"{day:%Y-%m-%d %H:%M}"


Watcher = Callable[[str], None]


class Shelf:
    """All sittings of this machine's photographer, in one folder that only they may read."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._open: dict[str, Sitting] = {}
        self._written: dict[str, int] = {}
        self._dirty: dict[str, Sitting] = {}
        self._watchers: dict[str, list[Watcher]] = {}
        self._writing = threading.Lock()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self.erase_expired()

    def new(self) -> Sitting:
        """A fresh sitting, saved at once."""
        sitting = Sitting(id=secrets.token_hex(6), created=now())
        self._open[sitting.id] = sitting
        self.place(sitting.id).mkdir(mode=0o700)
        self.write(sitting)
        return sitting

    def open(self, sitting_id: str) -> Sitting:
        """The one copy of a sitting that all tabs share."""
        if sitting_id not in self._open:
            self._open[sitting_id] = self._read(sitting_id)
            self._written[sitting_id] = self._open[sitting_id].revision
        return self._open[sitting_id]

    def all(self) -> Iterator[Sitting]:
        """Every sitting on the shelf, latest first; a damaged paper is passed over."""
        found = []
        for path in self.folder.iterdir():
            if SITTING_ID.fullmatch(path.name) and (path / PAPER).exists():
                try:
                    found.append(self.open(path.name))
                except WebError:
                    continue
        return iter(sorted(found, key=lambda sitting: sitting.created, reverse=True))

    def of_label(self, label: str) -> tuple[Sitting, ...]:
        """Every sitting that is called so, or in which a sitter is, whatever the capitals."""
        sought = " ".join(label.split()).casefold()

        def called(sitting: Sitting) -> bool:
            names = [sitting.title(), *(sitter.label for sitter in sitting.sitters)]
            return sought in (" ".join(name.split()).casefold() for name in names)

        return tuple(sitting for sitting in self.all() if sought and called(sitting))

    def place(self, sitting_id: str) -> Path:
        """The folder of a sitting; WebError for a name that is none."""
        if not SITTING_ID.fullmatch(sitting_id):
            raise WebError(
                tr(
                    "'{sitting_id}' is not a sitting; open one from the first page.",
                    sitting_id=sitting_id,
                )
            )
        return self.folder / sitting_id

    def frame_path(self, sitting: Sitting, frame: FrameNote) -> Path:
        """Where our copy of a frame lies."""
        return self.place(sitting.id) / "frames" / frame.file

    def take_out(self, sitting: Sitting, frame: FrameNote) -> None:
        """Take a frame off the table: our copy goes, the photographer's own file stays."""
        sitting.sitter.frames.remove(frame)
        path = self.frame_path(sitting, frame)
        path.unlink(missing_ok=True)
        path.with_name(f"{frame.id}.view.jpg").unlink(missing_ok=True)

    def changed(self, sitting: Sitting, by: str) -> None:
        """Note a change made by the tab ``by``: saved in a moment, and other tabs are told."""
        sitting.revision += 1
        waiting = sitting.id in self._dirty
        self._dirty[sitting.id] = sitting
        if not waiting:
            asyncio.get_running_loop().call_later(SAVE_AFTER_S, self._save_soon, sitting.id)
        for watcher in tuple(self._watchers.get(sitting.id, ())):
            watcher(by)

    def watch(self, sitting_id: str, watcher: Watcher) -> Callable[[], None]:
        """Be told of changes; gives back a way to stop being told."""
        self._watchers.setdefault(sitting_id, []).append(watcher)
        return lambda: self._watchers[sitting_id].remove(watcher)

    def flush(self) -> None:
        """Write everything that waits."""
        while self._dirty:
            _, sitting = self._dirty.popitem()
            self.write(sitting)

    def write(self, sitting: Sitting) -> None:
        """Write a sitting now; another program's version of the same paper is kept beside it."""
        self._put(sitting.id, sitting.revision, _text(sitting))

    def erase(self, sitting_id: str) -> None:
        """Erase a sitting with all its frames and drawings."""
        self._open.pop(sitting_id, None)
        self._dirty.pop(sitting_id, None)
        shutil.rmtree(self.place(sitting_id), ignore_errors=True)

    def erase_expired(self, today: date | None = None) -> int:
        """Erase what may not be kept any longer; says how many sittings went."""
        today = today or datetime.now().astimezone().date()
        gone = self.ended(today)
        for sitting_id in gone:
            self.erase(sitting_id)
        for sitting in self.all():
            if not sitting.keep_wishes and sitting.begun_on < today:
                self._forget_wishes(sitting)
        return len(gone)

    def ended(self, today: date) -> tuple[str, ...]:
        """The sittings that may not be kept any longer."""
        return tuple(sitting.id for sitting in self.all() if sitting.keep_until < today)

    def _forget_wishes(self, sitting: Sitting) -> None:
        if any(sitter.wishes for sitter in sitting.sitters):
            for sitter in sitting.sitters:
                sitter.wishes.clear()
            sitting.revision += 1
            self.write(sitting)

    def _save_soon(self, sitting_id: str) -> None:
        sitting = self._dirty.pop(sitting_id, None)
        if sitting is not None:
            # the text is made here, where nobody else changes the sitting; only the disk waits
            put = partial(self._put, sitting_id, sitting.revision, _text(sitting))
            asyncio.get_running_loop().run_in_executor(None, put)

    def _put(self, sitting_id: str, revision: int, text: str) -> None:
        path = self.place(sitting_id) / PAPER
        with self._writing:
            if not path.parent.is_dir() or revision < self._written.get(sitting_id, 0):
                return  # erased meanwhile, or a later state is already written
            self._keep_stranger(path, sitting_id)
            write_atomically(path, text)
            path.chmod(0o600)
            self._written[sitting_id] = revision

    def _keep_stranger(self, path: Path, sitting_id: str) -> None:
        if not path.exists():
            return
        try:
            theirs = int(json.loads(path.read_text(encoding="utf-8"))["revision"])
        except (ValueError, KeyError, TypeError):
            theirs = -1
        if theirs != self._written.get(sitting_id, theirs):
            shutil.copyfile(path, path.with_name(f"sitting-kept-{max(theirs, 0)}.json"))

    def _read(self, sitting_id: str) -> Sitting:
        path = self.place(sitting_id) / PAPER
        try:
            return _sitting(json.loads(path.read_text(encoding="utf-8")))
        except FileNotFoundError as error:
            raise WebError(
                tr(
                    "The sitting {sitting_id} is not here any more; begin a new one.",
                    sitting_id=sitting_id,
                )
            ) from error
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise WebError(
                tr(
                    "The papers of the sitting {sitting_id} can't be read ({error}); begin a "
                    "new one.",
                    sitting_id=sitting_id,
                    error=error,
                )
            ) from error


def now() -> str:
    """This moment, in UTC."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def _text(sitting: Sitting) -> str:
    return json.dumps(dataclasses.asdict(sitting), ensure_ascii=False, indent=1)


def _sitting(plain: dict[str, Any]) -> Sitting:
    sitters = [_sitter(row) for row in plain.pop("sitters")]
    return Sitting(**_known(Sitting, plain), sitters=sitters or [SitterNote()])


def _sitter(plain: dict[str, Any]) -> SitterNote:
    frames = [FrameNote(**_known(FrameNote, row)) for row in plain.pop("frames")]
    return SitterNote(**_known(SitterNote, plain), frames=frames)


def _known(kind: type, plain: dict[str, Any]) -> dict[str, Any]:
    # a paper of an older or newer version keeps what both know
    names = {part.name for part in dataclasses.fields(kind)}
    return {name: value for name, value in plain.items() if name in names}
