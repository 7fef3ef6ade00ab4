"""Reading the frames of a folder on all cores; each worker reads one frame after another."""

import contextlib
import itertools
import multiprocessing
import os
import threading
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import ModelError, SitwellError
from sitwell.brief.photos import keep_memory_for_many, open_photo
from sitwell.face.landmarks import find_faces
from sitwell.head.surface import Head
from sitwell.scene.setup import Setup
from sitwell.shoot.frame_facts import Sight
from sitwell.shoot.frames import Frame, clock_s
from sitwell.shoot.journal import Stamp
from sitwell.shoot.read_frame import LOOK_SIDE_PX, Sitter, look_at, sitter_for
from sitwell.sort.bursts import look_of
from sitwell.sort.index import ReadFrame

# Enough waiting work that no worker is idle, little enough that memory does not grow.
_AHEAD_PER_WORKER = 4
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
# In a group every face counts.
MOST_FACES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One frame to read: its place in the order of names, its name in the folder, its files."""

    place: int
    name: str
    frame: Frame
    stamp: Stamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What frames are held against, in a form that reaches other processes."""

    head: Head
    setup: Setup
    neutral_chin_deg: float = 0.0


def read_frame(task: Task, sitter: Sitter | None) -> ReadFrame:
    """Read one frame; whatever is wrong with it becomes its problem, in a sentence.

    Raises ModelError: without the landmark model no frame can be read.
    """
    keep_memory_for_many()
    path, taken = task.frame.path, task.frame.taken
    look, problem = b"", ""
    sights: tuple[Sight, ...] = ()
    try:
        photo = open_photo(path, largest_side_px=LOOK_SIDE_PX)
        look = look_of(photo.rgb)
        taken = taken or photo.facts.taken
        sights = look_at(photo, find_faces(photo, max_faces=MOST_FACES), sitter)
    except ModelError:
        raise
    except SitwellError as error:
        problem = str(error)
    except Exception as error:  # one odd file must not end the sorting of ten thousand
        problem = f"'{path.name}' could not be read ({type(error).__name__}: {error}); look at it."
    return ReadFrame(
        name=task.name,
        master=task.frame.master.name,
        stamp=task.stamp,
        taken_s=clock_s(taken),
        look=look,
        sights=sights,
        problem=problem,
    )


def read_all(
    tasks: Iterable[Task], held: Held | None, workers: int
) -> Iterator[tuple[Task, ReadFrame]]:
    """Read frames in any order; with one worker in this process, otherwise in so many others.

    A frame that ends its worker (a decoder's crash) is found out and given with that problem.
    """
    if workers <= 1:
        sitter = sitter_of(held)
        for task in tasks:
            yield task, read_frame(task, sitter)
        return
    yield from read_in_workers(tasks, held, workers)


def read_in_workers(
    tasks: Iterable[Task], held: Held | None, workers: int
) -> Iterator[tuple[Task, ReadFrame]]:
    """Read frames in so many other processes, even if that is one."""
    waiting = iter(tasks)
    while True:
        broken: list[Task] = []
        yield from _read_until_broken(waiting, held, workers, broken)
        if not broken:
            return
        yield from _read_one_by_one(iter(broken), held)


def _read_one_by_one(tasks: Iterator[Task], held: Held | None) -> Iterator[tuple[Task, ReadFrame]]:
    """Read suspects with nothing else under way, so that the one to blame is known."""
    while True:
        broken: list[Task] = []
        yield from _read_until_broken(tasks, held, 1, broken, ahead=1)
        if not broken:
            return
        yield broken[0], crashed(broken[0])


def _read_until_broken(
    tasks: Iterator[Task],
    held: Held | None,
    workers: int,
    broken: list[Task],
    ahead: int = _AHEAD_PER_WORKER,
) -> Iterator[tuple[Task, ReadFrame]]:
    """Read on until the tasks end or a worker dies; then ``broken`` holds what was under way."""
    context = multiprocessing.get_context("spawn")
    with (
        _one_thread_each(),
        ProcessPoolExecutor(workers, context, initializer=_begin, initargs=(held,)) as pool,
    ):
        running: dict[Future[ReadFrame], Task] = {}
        while True:
            room = workers * ahead - len(running)
            for task in itertools.islice(tasks, room):
                try:
                    running[pool.submit(_read, task)] = task
                except BrokenProcessPool:
                    broken.append(task)
            if not running:
                return
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in done:
                task = running.pop(future)
                try:
                    read = future.result()
                except BrokenProcessPool:
                    broken.append(task)
                    continue
                yield task, read
            if broken:
                broken.extend(running.values())
                return


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes begun meanwhile leave the linear algebra on one core: the others are taken.

    Several spinning threads in each worker made two workers slower than one.
    """
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def crashed(task: Task) -> ReadFrame:
    """A frame whose reader ended with it."""
    return ReadFrame(
        name=task.name,
        master=task.frame.master.name,
        stamp=task.stamp,
        taken_s=clock_s(task.frame.taken),
        problem=f"'{Path(task.name).name}' made the reader stop; look at it in another program.",
    )


def sitter_of(held: Held | None) -> Sitter | None:
    """What frames are held against, ready to be measured; this takes about a second."""
    if held is None:
        return None
    return sitter_for(held.head, held.setup, held.neutral_chin_deg)


class _Worker:
    """What one worker process keeps between frames."""

    sitter: Sitter | None = None


def _begin(held: Held | None) -> None:
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _Worker.sitter = sitter_of(held)


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for work for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _read(task: Task) -> ReadFrame:
    return read_frame(task, _Worker.sitter)
