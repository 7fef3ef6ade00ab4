"""How much faster two workers of a Dask cluster sort than one, on this machine's own cores.

    python -m benchmarks.bench_cluster [--frames 24] [--megapixels 24]

One worker and two are tried in turn, and the best round of each counts. The time runs over the
last two thirds of the frames, when every worker has its libraries loaded. Asks for ``dask``.
"""

import argparse
import os
import tempfile
import time
import warnings
from pathlib import Path

from distributed import LocalCluster

from benchmarks.bench_sort import ROUNDS, make_frames
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.shoot.frames import Frame
from sitwell.shoot.journal import Stamp
from sitwell.sort.cluster import read_on_cluster
from sitwell.sort.reading import Held, Task

READS = 120
GOAL = 1.8


def frame_s(folder: Path, held: Held, workers: int) -> float:
    """Seconds a frame with so many workers, once they are settled."""
    paths = sorted(folder.iterdir())
    tasks = [
        Task(place=i, name=str(i), frame=Frame(path=paths[i % len(paths)]), stamp=Stamp(0, 0))
        for i in range(READS)
    ]
    with LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        read = read_on_cluster(tasks, held, cluster.scheduler_address, folder)
        stamps = [time.perf_counter() for _ in read]
    settled = len(stamps) // 3
    return (stamps[-1] - stamps[settled]) / (len(stamps) - 1 - settled)


def main() -> None:
    """Print milliseconds a frame and the gain of the second worker."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--frames", type=int, default=24)
    parser.add_argument("--megapixels", type=float, default=24.0)
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    held = Held(head=build_head(), setup=Setup(turn_deg=20.0))
    best: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_frames(folder, asked.frames, asked.megapixels)
        for workers in (1, 2) * ROUNDS:
            took_s = frame_s(folder, held, workers)
            best[workers] = min(took_s, best.get(workers, took_s))
    print(f"{asked.megapixels:g} MP, {READS} reads, {os.cpu_count()} cores, best of {ROUNDS}")
    for workers, took_s in best.items():
        print(f"{workers} worker(s): {1000 * took_s:6.0f} ms a frame")
    print(f"gain:        {best[1] / best[2]:6.2f} (goal {GOAL})")


if __name__ == "__main__":
    main()
