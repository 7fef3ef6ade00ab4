"""Long work in a process of its own, so that the pages stay quick; it tells how far it is.

Work is a top-level function that takes its arguments, then ``tell(share, doing)`` and ``stop()``;
a third word to ``tell`` is a part of the result that is there already.
One long job runs at a time, and beside it one that somebody waits for, a reading say, so that no
search holds another sitting's reading. A job belongs to a sitting, not to a tab, so a refreshed
page finds it.
"""

import asyncio
import multiprocessing
import queue
import threading
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from typing import Any

from nicegui import background_tasks

from sitwell.base.errors import SearchStoppedError, SitwellError

LOOK_EVERY_S = 0.1
# From when on the time left is told (our choice): before, a slow start would promise too much.
SURE_SHARE, SURE_S = 0.15, 2.0
# What somebody waits for, and what needs the worker's memory of it; each is over in seconds.
QUICK = ("read", "skin")
Tell = Callable[..., None]
Stop = Callable[[], bool]
Said = tuple[float, str, Any]


@dataclass(slots=True, eq=False)
class Job:
    """One long job: how far it is (0..1), what it does, and how it ended.

    ``found`` is the part of its result that is there already.
    """

    share: float = 0.0
    doing: str = ""
    began: float = field(default_factory=time.monotonic)
    over: bool = False
    stopped: bool = False
    trouble: str = ""
    found: Any = None
    made: Any = None  # where what begins it keeps its result here

    @property
    def seconds(self) -> float:
        """How long it has been going on."""
        return time.monotonic() - self.began

    @property
    def seconds_left(self) -> float | None:
        """How long it will still take, if it goes on as it has; None while that can't be told."""
        if self.share < SURE_SHARE or self.seconds < SURE_S:
            return None
        return self.seconds * (1.0 - self.share) / self.share


class Workshop:
    """Runs jobs one after another in one worker process; ``inline`` keeps them in a thread."""

    def __init__(self, *, inline: bool = False) -> None:
        self.jobs: dict[str, Job] = {}
        self._inline = inline
        self._benches: dict[bool, _Bench] = {}
        self._turns = {quick: asyncio.Lock() for quick in (False, True)}

    def start(
        self, key: str, done: Callable[[Any], None], work: Callable[..., Any], *args: Any
    ) -> Job:
        """Begin a job unless the same one runs; ``done`` is called with its result."""
        running = self.running(key)
        if running is not None and not running.stopped:
            return running
        job = self.jobs[key] = Job()
        background_tasks.create(self._run(_is_quick(key), job, done, work, args))
        return job

    def running(self, key: str) -> Job | None:
        """The job of this name, if it is not over."""
        job = self.jobs.get(key)
        return job if job is not None and not job.over else None

    def at_work(self, lead: str) -> bool:
        """Whether any job whose name begins so is not over."""
        return any(key.startswith(lead) and not job.over for key, job in self.jobs.items())

    def stop(self, key: str) -> None:
        """Ask a job to stop; what it had not finished is dropped."""
        if (job := self.running(key)) is not None:
            job.stopped = True

    def stop_all(self, lead: str) -> None:
        """Ask every job whose name begins so to stop."""
        for key in self.jobs:
            if key.startswith(lead):
                self.stop(key)

    def close(self) -> None:
        """Let the worker go."""
        for job in self.jobs.values():
            job.stopped = True
        while self._benches:
            self._benches.popitem()[1].close()

    async def _run(
        self,
        quick: bool,
        job: Job,
        done: Callable[[Any], None],
        work: Callable[..., Any],
        args: tuple[Any, ...],
    ) -> None:
        try:
            async with self._turns[quick]:
                if not job.stopped:
                    result = await self._work(quick, job, work, args)
                    if not job.stopped:
                        done(result)
        except SearchStoppedError:
            job.stopped = True
        except (SitwellError, OSError) as error:
            job.trouble = str(error)
        except BrokenProcessPool:
            self._benches.pop(quick, None)
            job.trouble = "The worker ran out of memory or was ended; start it again."
        finally:
            job.over = True

    async def _work(
        self, quick: bool, job: Job, work: Callable[..., Any], args: tuple[Any, ...]
    ) -> Any:
        if quick not in self._benches:
            self._benches[quick] = _Bench(self._inline)
        bench = self._benches[quick]
        bench.begin()
        future = asyncio.wrap_future(bench.pool.submit(bench.work, work, args))
        while not future.done():
            await asyncio.wait([future], timeout=LOOK_EVERY_S)
            bench.hear(job)
            if job.stopped:
                bench.ask_to_stop()
        return future.result()


def _is_quick(key: str) -> bool:
    return key.rpartition("/")[2] in QUICK


class _Bench:
    """The worker with its two wires: words that come from it, and the wish to stop."""

    def __init__(self, inline: bool) -> None:
        self.pool: Any
        if inline:
            from concurrent.futures import ThreadPoolExecutor

            self._said, self._halt = queue.SimpleQueue[Said](), threading.Event()
            self.pool = ThreadPoolExecutor(1)
            self.work: Callable[..., Any] = self._inline_work
        else:
            # a fresh process: a copy of this one would carry the server's sockets and threads
            fresh = multiprocessing.get_context("spawn")
            self._said, self._halt = fresh.Queue(), fresh.Event()  # type: ignore[assignment]
            wires = (self._said, self._halt)
            self.pool = ProcessPoolExecutor(1, fresh, initializer=_connect, initargs=wires)
            self.work = _work_in_process

    def begin(self) -> None:
        self._halt.clear()
        self._drain()

    def hear(self, job: Job) -> None:
        for job.share, job.doing, found in self._drain():
            job.found = job.found if found is None else found

    def ask_to_stop(self) -> None:
        self._halt.set()

    def close(self) -> None:
        self._halt.set()
        self.pool.shutdown(wait=True, cancel_futures=True)

    def _drain(self) -> list[Said]:
        heard = []
        while True:
            try:
                heard.append(self._said.get_nowait())
            except queue.Empty:
                return heard

    def _inline_work(self, work: Callable[..., Any], args: tuple[Any, ...]) -> Any:
        def tell(share: float, doing: str, found: Any = None) -> None:
            self._said.put((share, doing, found))

        return work(*args, tell, self._halt.is_set)


# In the worker process only: the wires that its initializer was given.
_wires: dict[str, Any] = {}


def _connect(said: Any, halt: Any) -> None:
    _wires.update(said=said, halt=halt)


def _work_in_process(work: Callable[..., Any], args: tuple[Any, ...]) -> Any:
    def tell(share: float, doing: str, found: Any = None) -> None:
        _wires["said"].put((share, doing, found))

    return work(*args, tell, _wires["halt"].is_set)
