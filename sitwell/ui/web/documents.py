"""The shelf: the working papers of all sittings, one JSON document and one folder of frames each.

The server holds one copy of a sitting, which every tab works on, so two tabs can't overwrite each
other's fields: each change touches its own field, the latest change of a field counts, and every
other tab is told. A document is written to a temporary name and renamed, a moment after a change.
Should another program have written the file meanwhile, its version is kept beside ours.

Where the records are sealed and open, so are the papers: the document always, the files beside it
(frames, views, plans, drawings, readings) as soon as nobody works on the sitting. A damaged
document is set aside and named, and holds nothing else up.
"""

import asyncio
import json
import secrets
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path

from sitwell.base.errors import SealError, WebError
from sitwell.base.words import tr
from sitwell.store.pending import Gone, Pending
from sitwell.store.places import make_privately
from sitwell.store.sealed import Seal
from sitwell.store.sealed_files import is_sealed_file, open_bytes, open_folder, seal_folder, sealed
from sitwell.ui.web.paper import SITTING_ID, FrameNote, Sitting, folded, from_text, now, to_text

SAVE_AFTER_S = 0.25
REST_S = 300.0  # a sitting that no tab has asked for so long is put away
PAPER = "sitting.json"
DAMAGED = "damaged-sitting.json"
# The last day of keeping, in clear: a term must end also where the papers can't be read.
UNTIL = "until"
_LEFT_ALONE = (PAPER, DAMAGED, UNTIL)
# Our own choice: time to look at damaged papers whose own term can't be read.
DAMAGED_TERM_DAYS = 7

Watcher = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Damaged:
    """Papers that can't be read, damaged or under another seal: their folder and last day."""

    id: str
    path: Path
    keep_until: date

    def sentence(self) -> str:
        """What to tell whoever opens the pages."""
        return tr(
            "The papers in '{path}' can't be read and are set aside; look at them or erase them.",
            path=self.path,
        )


class Shelf:
    """All sittings of this machine's photographer, in one folder that only they may read.

    ``seal`` is that of the records, while they are sealed and open.
    """

    def __init__(self, folder: Path, seal: Seal | None = None) -> None:
        self.folder, self.seal = folder, seal
        self._open: dict[str, Sitting] = {}
        self._written: dict[str, int] = {}
        self._dirty: dict[str, Sitting] = {}
        self._watchers: dict[str, list[Watcher]] = {}
        self._asked_for: dict[str, float] = {}
        self._erased: set[str] = set()
        self._writing, self._filing = threading.Lock(), threading.Lock()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self.pending = Pending(folder)
        self.pending.retry()
        self.erase_expired()

    def new(self) -> Sitting:
        """A fresh sitting, saved at once."""
        sitting = Sitting(id=secrets.token_hex(6), created=now())
        self._open[sitting.id] = sitting
        self._asked_for[sitting.id] = time.monotonic()
        self.place(sitting.id).mkdir(mode=0o700)
        self.write(sitting)
        return sitting

    def open(self, sitting_id: str) -> Sitting:
        """The one copy of a sitting that all tabs share."""
        if self._is_gone(sitting_id):
            self._open.pop(sitting_id, None)  # erased by another program of ours meanwhile
        if sitting_id not in self._open:
            self._open[sitting_id] = self._read(sitting_id)
            self._written[sitting_id] = self._open[sitting_id].revision
        return self._open[sitting_id]

    def all(self) -> Iterator[Sitting]:
        """Every sitting on the shelf that can be read, latest first."""
        found = []
        for sitting_id in self._ids():
            try:
                found.append(self.open(sitting_id))
            except (WebError, SealError):
                continue
        return iter(sorted(found, key=lambda sitting: sitting.created, reverse=True))

    def has_any(self) -> bool:
        """Whether any sitting lies here, readable or not."""
        return bool(self._ids())

    def folders_used(self) -> tuple[str, ...]:
        """The photographer's folders that sittings name, the latest first; gone with them."""
        return tuple(dict.fromkeys(sitting.folder for sitting in self.all() if sitting.folder))

    def of_label(self, label: str) -> tuple[Sitting, ...]:
        """Every sitting that is called so, or in which a sitter is, whatever the capitals."""
        sought = folded(label)
        return tuple(sitting for sitting in self.all() if sought and sitting.is_called(label))

    def damaged(self) -> tuple[Damaged, ...]:
        """Papers that can't be read, also where their seal is another than the one that is open."""
        found = []
        sealed_otherwise = self.locked() if self.seal is not None else ()
        for sitting_id in (*self._ids(whole=False), *sealed_otherwise):
            place = self.place(sitting_id)
            begun = datetime.fromtimestamp(_mtime(place / DAMAGED, place)).date()
            until = self._until(sitting_id) or begun + timedelta(DAMAGED_TERM_DAYS)
            found.append(Damaged(id=sitting_id, path=place, keep_until=until))
        return tuple(found)

    def damaged_of(self, label: str) -> tuple[Damaged, ...]:
        """Papers set aside in which the label can still be made out."""
        sought = folded(label)
        return tuple(d for d in self.damaged() if sought and sought in self._scraps(d.path))

    def locked(self) -> tuple[str, ...]:
        """The sittings whose papers are sealed and can't be opened now."""
        readable = {sitting.id for sitting in self.all()}
        return tuple(
            sitting_id
            for sitting_id in self._ids()
            if sitting_id not in readable and is_sealed_file(self.place(sitting_id) / PAPER)
        )

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

    def frames(self, sitting: Sitting) -> Path:
        """The folder of our copies of a sitting's frames."""
        return self.place(sitting.id) / "frames"

    def take_out(self, sitting: Sitting, frame: FrameNote) -> Gone:
        """Take a frame off the table: our copy goes, the photographer's own file stays."""
        sitting.sitter.frames.remove(frame)
        return self.erase_parts(sitting.id, [f"frames/{frame.file}", f"frames/{frame.id}.view.jpg"])

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
        self._put(sitting.id, sitting.revision, sitting.keep_until, to_text(sitting))

    # Sealing

    def lay_out(self, sitting_id: str) -> None:
        """Have the files of a sitting in clear, for whoever works on it; SealError if locked."""
        self._asked_for[sitting_id] = time.monotonic()
        if self.seal is None:
            return
        with self._filing:
            open_folder(self.place(sitting_id), self.seal, _LEFT_ALONE)

    def put_away(self, sitting_id: str) -> None:
        """Seal the files of a sitting, where the records are sealed."""
        if self.seal is None or not self.place(sitting_id).is_dir():
            return
        with self._filing:
            self._asked_for.pop(sitting_id, None)
            seal_folder(self.place(sitting_id), self.seal, _LEFT_ALONE)

    def idle(self) -> tuple[str, ...]:
        """The sittings that no tab shows, and none has asked for in a while."""
        lately = time.monotonic() - REST_S
        return tuple(
            sitting_id
            for sitting_id in self._ids()
            if not self._watchers.get(sitting_id) and self._asked_for.get(sitting_id, 0) < lately
        )

    def take_seal(self, seal: Seal | None) -> None:
        """Seal with this from now on: each document now, the files of those that lie idle."""
        self.seal = seal
        self.erase_expired()
        for sitting in self.all():
            self.write(sitting)
            if sitting.id not in self._asked_for:
                self.put_away(sitting.id)

    def lay_all_out(self) -> None:
        """Have all papers in clear, before the records get another seal."""
        for sitting in tuple(self.all()):
            self.lay_out(sitting.id)
        self.seal = None
        for sitting in self.all():
            self.write(sitting)

    def read_file(self, path: Path) -> bytes:
        """The plain content of a file beside the papers, sealed or not."""
        return open_bytes(path.read_bytes(), self._where(path), self.seal)

    # Erasing

    def erase(self, sitting_id: str) -> Gone:
        """Erase a sitting with all its frames and drawings; what would not go is tried again."""
        place = self.place(sitting_id)
        with self._writing:
            self._open.pop(sitting_id, None)
            self._dirty.pop(sitting_id, None)
            self._erased.add(place.name)
            return self.pending.erase([place.name])

    def erase_again(self) -> Gone:
        """Erase what work that was under way has made anew since, and what would not go."""
        return self.pending.erase({*self._erased, *self.lost(), *self.pending.names()})

    def lost(self) -> tuple[str, ...]:
        """Sittings that were written here and that another program of ours has erased since."""
        return tuple(name for name in tuple(self._written) if self._is_gone(name))

    def erase_parts(self, sitting_id: str, names: list[str]) -> Gone:
        """Erase files or folders of a sitting; what would not go is tried again."""
        return self.pending.erase([f"{self.place(sitting_id).name}/{name}" for name in names])

    def unmeasure(self, sitting: Sitting, at: int) -> None:
        """Erase what was measured of one sitter, and what shows or measures several at once."""
        readings = [path.name for path in self.place(sitting.id).glob("*.sqlite*")]
        self.erase_parts(sitting.id, [f"plan-{at}.json", "plan-group.json", "drawn", *readings])
        sitter = sitting.sitters[at]
        sitter.planned, sitter.head_of, sitter.chosen, sitter.moved = "", "", "", {}

    def erase_expired(self, today: date | None = None) -> int:
        """Erase what may not be kept any longer; says how many sittings went."""
        today = today or datetime.now().astimezone().date()
        gone = [self.erase(sitting_id) for sitting_id in self.ended(today)]
        for sitting in self.all():
            if sitting.keep_wishes_until < today:
                self._forget_wishes(sitting)
        return sum(not each.left for each in gone)

    def ended(self, today: date) -> tuple[str, ...]:
        """The sittings that may not be kept any longer, read or not."""
        terms = {sitting_id: self._until(sitting_id) for sitting_id in self.locked()}
        terms |= {sitting.id: sitting.keep_until for sitting in self.all()}
        terms |= {damaged.id: damaged.keep_until for damaged in self.damaged()}
        return tuple(name for name, until in terms.items() if until is not None and until < today)

    def ending(self, today: date) -> tuple[Sitting, ...]:
        """The sittings that go within a day, to be warned of."""
        return tuple(s for s in self.all() if s.keep_until <= today + timedelta(days=1))

    # Below: files

    def _ids(self, *, whole: bool = True) -> list[str]:
        """The sittings that have a document, or with ``whole`` off those that have lost it."""
        erasing = self.pending.names()
        return [
            path.name
            for path in sorted(self.folder.iterdir())
            if SITTING_ID.fullmatch(path.name)
            and path.name not in erasing
            and path.is_dir()
            and (path / PAPER).exists() is whole
        ]

    def _is_gone(self, sitting_id: str) -> bool:
        place = self.place(sitting_id)
        return not any((place / name).exists() for name in (PAPER, DAMAGED))

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
            text = to_text(sitting)
            put = partial(self._put, sitting_id, sitting.revision, sitting.keep_until, text)
            asyncio.get_running_loop().run_in_executor(None, put)

    def _put(self, sitting_id: str, revision: int, until: date, text: str) -> None:
        path = self.place(sitting_id) / PAPER
        with self._writing:
            # work that was under way may have made the folder anew
            gone = sitting_id in self._written and self._is_gone(sitting_id)
            gone = gone or not path.parent.is_dir() or sitting_id in self.pending.names()
            if gone or revision < self._written.get(sitting_id, 0):
                return  # erased meanwhile, or a later state is already written
            self._keep_stranger(path, sitting_id)
            body = sealed(text.encode(), self._where(path), self.seal)
            make_privately(path, lambda part: part.write_bytes(body))
            if self._until(sitting_id) != until:
                make_privately(path.with_name(UNTIL), lambda part: part.write_text(str(until)))
            self._written[sitting_id] = revision

    def _keep_stranger(self, path: Path, sitting_id: str) -> None:
        if not path.exists():
            return
        try:
            theirs = int(json.loads(self.read_file(path))["revision"])
        except (ValueError, KeyError, TypeError, SealError):
            theirs = -1
        if theirs != self._written.get(sitting_id, theirs):
            shutil.copyfile(path, path.with_name(f"sitting-kept-{max(theirs, 0)}.json"))

    def _where(self, path: Path) -> str:
        return path.relative_to(self.folder).as_posix()

    def _until(self, sitting_id: str) -> date | None:
        try:
            return date.fromisoformat((self.place(sitting_id) / UNTIL).read_text().strip())
        except (OSError, ValueError):
            return None

    def _read(self, sitting_id: str) -> Sitting:
        path = self.place(sitting_id) / PAPER
        if sitting_id in self.pending.names() or not path.exists():
            raise WebError(
                tr(
                    "The sitting {sitting_id} is not here any more; begin a new one.",
                    sitting_id=sitting_id,
                )
            )
        try:
            return from_text(self.read_file(path).decode("utf-8"), sitting_id)
        except OSError as error:
            raise WebError(_unreadable(sitting_id, error.strerror)) from error
        except ValueError as error:
            path.replace(path.with_name(DAMAGED))
            raise WebError(_unreadable(sitting_id, str(error))) from error

    def _scraps(self, folder: Path) -> str:
        path = folder / DAMAGED
        try:
            return folded(self.read_file(path).decode("utf-8", "replace"))
        except (OSError, SealError):
            return ""


def _unreadable(sitting_id: str, why: str | None) -> str:
    return tr(
        "The papers of the sitting {sitting_id} can't be read ({error}); begin a new one.",
        sitting_id=sitting_id,
        error=why,
    )


def _mtime(*paths: Path) -> float:
    return next((path.stat().st_mtime for path in paths if path.exists()), time.time())
