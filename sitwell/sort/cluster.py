"""Reading frames on an existing Dask cluster, whose workers see the folder under the same name.

A worker that dies costs no frame: the scheduler gives what it had in hand to another. Each result
is taken once, so no frame is recorded twice, though it may have been looked at twice.
"""

import dataclasses
import itertools
import threading
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from sitwell.base.errors import ModelError, SortError
from sitwell.base.threads import one_blas_thread
from sitwell.base.words import tr
from sitwell.shoot.read_frame import Sitter
from sitwell.sort.index import ReadFrame
from sitwell.sort.reading import Held, Task, crashed, read_frame, sitter_of

if TYPE_CHECKING:
    from distributed import Client

ANSWER_S = 10
# Enough waiting work that no worker is idle, little enough that memory does not grow. Handed over
# by the half of it: to hand over one frame keeps the scheduler nearly as busy as a dozen.
_AHEAD_PER_THREAD = 12


def read_on_cluster(
    tasks: list[Task], held: Held | None, address: str, folder: Path
) -> Iterator[tuple[Task, ReadFrame]]:
    """Read frames in any order on the workers of the scheduler at ``address``.

    Raises SortError when Dask is not installed, nobody answers, or a worker can't see the folder.
    """
    with _connected(address) as client:
        threads = _ready_threads(client, folder.absolute())
        yield from _read(client, tasks, held, _AHEAD_PER_THREAD * threads, address)


def _connected(address: str) -> "Client":
    try:
        from distributed import Client
    except ImportError as error:
        raise SortError(
            tr(
                "Sorting on a cluster needs Dask; install it with: pip install 'sitwell[cluster]'.",
            )
        ) from error
    try:
        return Client(  # type: ignore[no-untyped-call]
            address, timeout=ANSWER_S, set_as_default=False
        )
    except (OSError, ValueError) as error:
        raise SortError(
            tr(
                "No Dask scheduler answers at '{address}'; give the address that it printed "
                "when it was started, such as tcp://192.168.0.5:8786.",
                address=address,
            )
        ) from error


def _ready_threads(client: "Client", folder: Path) -> int:
    """How many frames can be read at once; refuses workers that could read none."""
    workers = client.scheduler_info(n_workers=-1)["workers"]
    if not workers:
        raise SortError(tr("The Dask scheduler has no workers; start some and sort again."))
    for worker, seen in client.run(_sees, str(folder), on_error="return").items():
        if isinstance(seen, BaseException):
            raise SortError(
                tr(
                    "The worker {worker} can't run Sitwell ({seen}); install this version there.",
                    worker=worker,
                    seen=seen,
                )
            )
        if not seen:
            raise SortError(
                tr(
                    "The worker {worker} sees no folder '{folder}'; sort a folder that every "
                    "machine of the cluster has under the same name.",
                    worker=worker,
                    folder=folder,
                )
            )
    return sum(int(worker["nthreads"]) for worker in workers.values())


def _read(
    client: "Client", tasks: list[Task], held: Held | None, ahead: int, address: str
) -> Iterator[tuple[Task, ReadFrame]]:
    from distributed import CancelledError, KilledWorker, as_completed

    run = uuid.uuid4().hex
    # Given as a task of its own, it can be made again when the worker that has it dies.
    shared = client.submit(_same, held, key=f"sitwell-head-{run}")
    waiting = iter(tasks)
    known: dict[str, Task] = {}
    running = as_completed([], loop=client.loop)  # type: ignore[no-untyped-call]

    def hand_over() -> None:
        batch = list(itertools.islice(waiting, ahead - len(known)))
        keys = [f"sitwell-{run}-{task.place}" for task in batch]
        known.update(zip(keys, batch, strict=True))
        futures = client.map(_read_here, [_absolute(task) for task in batch], held=shared, key=keys)
        running.update(futures)  # type: ignore[no-untyped-call]

    hand_over()
    for future in running:
        task = known.pop(future.key)
        try:
            read = future.result()
        except KilledWorker:
            read = crashed(task)
        except (CancelledError, OSError) as error:
            raise SortError(
                tr(
                    "The Dask scheduler at '{address}' went away; start it and sort again, "
                    "which goes on from here.",
                    address=address,
                )
            ) from error
        future.release()
        if len(known) <= ahead // 2:
            hand_over()
        yield task, read


def _absolute(task: Task) -> Task:
    """The same task with paths that mean the same in a worker's own folder."""
    frame = dataclasses.replace(
        task.frame,
        path=task.frame.path.absolute(),
        companions=tuple(path.absolute() for path in task.frame.companions),
    )
    return dataclasses.replace(task, frame=frame)


class _Here(threading.local):
    """What one worker's thread keeps between frames."""

    held: Held | None = None
    sitter: Sitter | None = None


_here = _Here()


def _read_here(task: Task, held: Held | None) -> ReadFrame:
    if held is not _here.held:
        _here.sitter, _here.held = sitter_of(held), held
    try:
        with one_blas_thread():
            return read_frame(task, _here.sitter)
    except ModelError as error:
        raise SortError(tr("A worker of the cluster can't read: {error}", error=error)) from error


def _same(held: Held | None) -> Held | None:
    return held


def _sees(folder: str) -> bool:
    return Path(folder).is_dir()
