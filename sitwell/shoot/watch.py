"""Watch a folder and hand out each new frame once, whole, in the order of exposure.

Nothing is ever written in the folder. A file is handed out when its size and time have stood
still and it decodes to its end; a JPEG that ends with its own end marker is taken at once. What
landed last goes before what waited already, and what is whole before what may be broken. A folder
that goes away (a cable, a card) is waited for; pipes, sockets and devices are passed over.
"""

import os
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import watchfiles
from watchfiles._rust_notify import WatchfilesRustInternalError

from sitwell.base.errors import ShootError
from sitwell.base.words import tr
from sitwell.shoot.frames import (
    Frame,
    clock_s,
    ends_whole,
    group_frames,
    is_master,
    is_photo,
    natural_key,
    same_moment,
    stem_of,
    why_unreadable,
)
from sitwell.shoot.journal import Journal, Stamp, print_of, stamp_of

STEADY_S = 0.4
QUICK_S = 0.05
GIVE_UP_S = 10.0
RESCAN_S = 30.0
_WAKE_MS = 200
# So many files at once are put in the order of exposure; more go by the time of their files.
AT_ONCE = 2000
# Of files that have to be decoded to be known as whole so many at once: each may be a broken one.
_DECODED_AT_ONCE = 64
# After so long with what waits, the folder is looked at again for something newer.
_TURN_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One frame that is all there; or, with a ``problem``, one that stays unreadable."""

    frame: Frame
    problem: str = ""


@dataclass(slots=True)
class _Waiting:
    """A file that is not done: its stamp, since when it has that stamp, and its last problem.

    ``look`` counts the looks at the folder up to the one that found it so; ``whole`` says that its
    own last bytes vouch for it.
    """

    stamp: Stamp
    since_s: float
    look: int
    whole: bool = False
    problem: str = ""

    def stood_still(self, steady_s: float) -> bool:
        """Whether it has not changed for long enough to be complete."""
        seen_s = time.monotonic() - self.since_s
        if self.whole:  # by its own time too, which is older than our first look at it
            return max(seen_s, time.time() - self.stamp.mtime_ns / 1e9) >= min(QUICK_S, steady_s)
        return self.stamp.size > 0 and seen_s >= steady_s


class Watch:
    """A watched folder; iterate over ``arrivals`` and call ``done`` with the report on each."""

    def __init__(
        self,
        folder: Path,
        journal: Journal,
        steady_s: float = STEADY_S,
        give_up_s: float = GIVE_UP_S,
        rescan_s: float = RESCAN_S,
    ) -> None:
        if not folder.is_dir():
            raise ShootError(
                tr("There is no folder '{folder}' to watch; check the name.", folder=folder)
            )
        # The system tells changes under the folder's whole name.
        self._folder, self._journal = folder.absolute(), journal
        self._steady_s, self._give_up_s, self._rescan_s = steady_s, give_up_s, rescan_s
        self._done = journal.stamps()
        self._waiting: dict[Path, _Waiting] = {}
        self._given: dict[Path, tuple[Stamp, bytes]] = {}
        self._looks = 0

    def arrivals(self, stop: threading.Event | None = None) -> Iterator[Arrival]:
        """New frames as they become whole, until ``stop`` is set; what landed last goes first.

        A frame for which ``done`` was not called is recorded without a report when the next one
        is asked for; one that was never followed by either is handed out again after a restart.
        """
        for paths in self._wakes(stop or threading.Event()):
            self._look_at(paths)
            for arrival in self._ready():
                yield arrival
                if self._given:
                    self.done(arrival)
                if stop is not None and stop.is_set():
                    return

    def done(self, arrival: Arrival, report: str = "") -> None:
        """Record the arrival together with the report on it."""
        self._journal.done(arrival.frame, report or arrival.problem, self._given)
        self._forget(self._given)
        self._given = {}

    def _wakes(self, stop: threading.Event) -> Iterator[list[Path]]:
        """Files to look at: all at first and now and then, and what changed in between."""
        while not stop.is_set():
            identity = _identity(self._folder)
            if identity is None:
                self._waiting.clear()
                stop.wait(_WAKE_MS / 1000)
                continue
            try:
                yield from self._wakes_while_there(identity, stop)
            except (OSError, WatchfilesRustInternalError):
                # It went away, or a name in it is no text, or the system watches no more
                # folders: then looking through it now and then has to do.
                yield list(list_photos(self._folder))
                stop.wait(_WAKE_MS / 1000)

    def _wakes_while_there(
        self, identity: tuple[int, int], stop: threading.Event
    ) -> Iterator[list[Path]]:
        changes = watchfiles.watch(
            self._folder,
            watch_filter=None,
            stop_event=stop,
            rust_timeout=_WAKE_MS,
            yield_on_timeout=True,
            debounce=100,
            step=20,
            ignore_permission_denied=True,
        )
        scanned_s = -self._rescan_s
        for changed in changes:
            if _identity(self._folder) != identity:
                return
            if time.monotonic() - scanned_s >= self._rescan_s:
                yield list(list_photos(self._folder))
                scanned_s = time.monotonic()
            else:
                yield [
                    photo for _, name in changed for photo in _photos_at(Path(name), self._folder)
                ]

    def _look_at(self, paths: list[Path]) -> None:
        now_s = time.monotonic()
        self._looks += 1
        for path in {*paths, *self._waiting}:
            stamp = stamp_of(path)
            if stamp is None or self._done.get(self._journal.name_of(path)) == stamp:
                self._waiting.pop(path, None)
            elif path not in self._waiting or self._waiting[path].stamp != stamp:
                self._waiting[path] = _Waiting(stamp, now_s, self._looks, ends_whole(path))

    def _ready(self) -> Iterator[Arrival]:
        """What can be handed out now; after a turn of some seconds it ends, and a look is due."""
        now_s = time.monotonic()
        steady = [
            path for path, waiting in self._waiting.items() if waiting.stood_still(self._steady_s)
        ]
        sure = {stem_of(path) for path in steady if self._waiting[path].whole}
        vouched = [path for path in steady if sure and stem_of(path) in sure]
        others = set(steady).difference(vouched)
        unknown = [path for path in others if not self._waiting[path].problem]
        broken = others.difference(unknown)
        given_up = [p for p in broken if now_s - self._waiting[p].since_s >= self._give_up_s]
        ends_s = None
        for paths, at_once in (
            (vouched, AT_ONCE),
            (unknown, _DECODED_AT_ONCE),
            (given_up, _DECODED_AT_ONCE),
        ):
            paths.sort(key=self._newest_first)
            for start in range(0, len(paths), at_once):
                fresh = [p for p in paths[start : start + at_once] if not self._is_known(p)]
                frames = sorted(group_frames(fresh), key=self._in_order)
                ends_s = ends_s or time.monotonic() + _TURN_S
                for frame in frames:
                    arrival = self._arrival(frame, now_s)
                    if arrival is not None:
                        yield arrival
                    if time.monotonic() > ends_s:
                        return

    def _newest_first(self, path: Path) -> tuple[int, int, tuple[str | int, ...]]:
        waiting = self._waiting[path]
        return -waiting.look, waiting.stamp.mtime_ns, natural_key(path)

    def _in_order(self, frame: Frame) -> tuple[int, bool, float, tuple[str | int, ...]]:
        """The order of exposure, of what was found at one look."""
        moment_s = clock_s(frame.taken)
        look = self._waiting[frame.path].look
        return -look, moment_s is None, moment_s or 0.0, natural_key(frame.path)

    def _is_known(self, path: Path) -> bool:
        """Whether this is done already: touched, renamed, copied, or a frame's other file."""
        stamp = self._waiting[path].stamp
        try:
            if self._journal.has_size(stamp.size) and self._know_again(path, stamp):
                return True
            number = self._partner(path)
            if number is None:
                return False
            if why_unreadable(path) is None:
                content = {path: (stamp, print_of(path))}
                self._journal.attach(number, content)
                self._forget(content)
        except OSError:
            pass  # gone again; the next look will say so
        return True

    def _know_again(self, path: Path, stamp: Stamp) -> bool:
        content = print_of(path)
        if not self._journal.has_content(content):
            return False
        self._journal.know(path, stamp, content)
        self._forget({path: (stamp, content)})
        return True

    def _partner(self, path: Path) -> int | None:
        """The done frame to which this file is the raw file or the JPEG, if there is one."""
        taken = None
        for number, other, other_taken in self._journal.partners(path):
            if other.name == path.name or is_master(other) == is_master(path):
                continue
            taken = taken or next(iter(group_frames([path]))).taken
            if same_moment(taken, other_taken):
                return number
        return None

    def _arrival(self, frame: Frame, now_s: float) -> Arrival | None:
        waiting = self._waiting[frame.path]
        # What can't be read does not become readable while it stands still: look once.
        problem = waiting.problem
        if not problem and not waiting.whole:
            problem = waiting.problem = why_unreadable(frame.path) or ""
        if problem and now_s - waiting.since_s < self._give_up_s:
            return None
        try:
            files = (frame.path, *frame.companions)
            given = {path: (self._waiting[path].stamp, print_of(path)) for path in files}
        except OSError:
            return None
        if any(stamp_of(path) != stamp for path, (stamp, _) in given.items()):
            return None  # it changed meanwhile: the next look will see it
        self._given = given
        return Arrival(frame=frame, problem=problem)

    def _forget(self, content: dict[Path, tuple[Stamp, bytes]]) -> None:
        for path, (stamp, _) in content.items():
            self._done[self._journal.name_of(path)] = stamp
            self._waiting.pop(path, None)


def list_photos(folder: Path) -> Iterator[Path]:
    """Every photograph in a folder and those below it.

    Hidden folders are passed over, and pipes, sockets and devices with a photograph's name.
    """
    pending = [folder]
    while pending:
        try:
            with os.scandir(pending.pop()) as entries:
                for entry in entries:
                    if entry.is_dir(follow_symlinks=False):
                        if not entry.name.startswith("."):
                            pending.append(Path(entry.path))
                    elif is_photo(Path(entry.name)) and entry.is_file():
                        yield Path(entry.path)
        except OSError:
            continue  # a folder that may not be read, or has just gone, holds nothing for us


def _photos_at(path: Path, folder: Path) -> Iterator[Path]:
    """What a change at a path may have brought; a new folder may be filled before it is watched."""
    try:
        parts = path.relative_to(folder).parts
    except ValueError:  # the system calls the folder by another name
        yield from list_photos(folder)
        return
    if any(part.startswith(".") for part in parts):
        return
    if path.is_dir():
        yield from list_photos(path)
    elif is_photo(path) and path.is_file():
        yield path


def _identity(folder: Path) -> tuple[int, int] | None:
    try:
        status = folder.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino
