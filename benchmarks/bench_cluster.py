"""How much faster two workers of a Dask cluster sort than one, on this machine's own cores.

    python -m benchmarks.bench_cluster [--reads 120] [--megapixels 24]

One worker and two are tried in turn, and the best round of each counts. The time runs over the
last two thirds of the frames, when every worker has its libraries loaded. In the same run our own
pool of processes reads the same frames, without a cluster: what two processes gain there is what
this machine's cores and memory have to give. Processor time is counted beside, for workers and for
this process, in which client and scheduler run; on a machine that is busy otherwise only that
means anything. Asks for ``distributed``; takes about a minute on two idle cores.
"""

import argparse
import os
import tempfile
import time
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import psutil
from distributed import LocalCluster

from benchmarks.bench_sort import ROUNDS, make_frames
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.shoot.frames import Frame
from sitwell.shoot.journal import Stamp
from sitwell.sort.cluster import read_on_cluster
from sitwell.sort.reading import Held, Task, read_in_workers

DIFFERENT_FRAMES = 8
GOAL = 1.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Seconds a frame: by the clock, and of processor time in the workers and in this process."""

    clock_s: float
    workers_s: float
    here_s: float


def cost_of(reads: Iterable[object], count: int) -> Cost:
    """What each of the last two thirds of ``count`` reads took."""
    settled = count // 3
    marks = []
    for number, _ in enumerate(reads, start=1):
        if number in (settled, count):  # at the last one the workers still run
            marks.append((time.perf_counter(), *_processor_s()))
    (start, here, workers), (end, here_after, workers_after) = marks
    frames = count - settled
    workers_s = sum(spent - workers.get(pid, 0.0) for pid, spent in workers_after.items())
    return Cost(
        clock_s=(end - start) / frames,
        workers_s=workers_s / frames,
        here_s=(here_after - here) / frames,
    )


def _processor_s() -> tuple[float, dict[int, float]]:
    """Processor seconds so far of this process, and of each process that it began."""

    def spent(process: psutil.Process) -> float:
        times = process.cpu_times()
        return float(times.user + times.system)

    here = psutil.Process()
    return spent(here), {child.pid: spent(child) for child in here.children(recursive=True)}


def on_cluster(tasks: list[Task], held: Held, workers: int, folder: Path) -> Cost:
    """The cost with so many workers of a cluster."""
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        return cost_of(read_on_cluster(tasks, held, cluster.scheduler_address, folder), len(tasks))


def _told(name: str, costs: dict[int, Cost]) -> None:
    for workers, cost in costs.items():
        print(
            f"{name}, {workers} worker(s): {1000 * cost.clock_s:6.0f} ms a frame; processor time "
            f"{1000 * cost.workers_s:.0f} ms in workers, {1000 * cost.here_s:.1f} ms here"
        )
    one, two = costs[1], costs[2]
    could = 2 * one.workers_s / (two.workers_s + two.here_s)
    print(f"{name}, gain: {one.clock_s / two.clock_s:.2f}; by processor time {could:.2f}")


def main() -> None:
    """Print what a frame costs with one and two workers, and the gain of the second."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--reads", type=int, default=120)
    parser.add_argument("--megapixels", type=float, default=24.0)
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    held = Held(head=build_head(), setup=Setup(turn_deg=20.0))
    cluster: dict[int, Cost] = {}
    pool: dict[int, Cost] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_frames(folder, DIFFERENT_FRAMES, asked.megapixels)
        paths = sorted(folder.iterdir())
        tasks = [
            Task(place=i, name=str(i), frame=Frame(path=paths[i % len(paths)]), stamp=Stamp(0, 0))
            for i in range(asked.reads)
        ]
        for workers in (1, 2) * ROUNDS:
            _keep_best(cluster, workers, on_cluster(tasks, held, workers, folder))
            in_pool = cost_of(read_in_workers(tasks, held, workers), asked.reads)
            _keep_best(pool, workers, in_pool)
    print(f"{asked.megapixels:g} MP, {asked.reads} reads, {os.cpu_count()} cores, best of {ROUNDS}")
    _told("own pool", pool)
    _told("cluster", cluster)
    print(f"goal: {GOAL} on the cluster")


def _keep_best(costs: dict[int, Cost], workers: int, cost: Cost) -> None:
    if workers not in costs or cost.clock_s < costs[workers].clock_s:
        costs[workers] = cost


if __name__ == "__main__":
    main()
