"""How fast a folder is read for sorting, against the floor that any such tool must pay.

The floor is measured in the same run on the same files: decode each JPEG with plain Pillow at the
size that sorting needs and run the bare landmarker on it once, one file after another. Sorting does
more: it reads each face in a standard crop, lays the sitter's head on it, takes every measure in
the seen set-up, and measures focus and light in the picture.

The floor runs in turn with sorting, in a process that keeps its memory between frames as sorting
does, which makes the floor faster too. Processor time is what counts on a machine that is busy
otherwise; the clock's is printed beside it.

    python -m benchmarks.bench_sort [--frames 40] [--megapixels 24]

The frames are rendered from an invented head, enlarged, with grain.
"""

import argparse
import os
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from builders.pictures.ray_traced import Light, pose_at, render
from sitwell.brief.photos import keep_memory_for_many
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.shoot.frames import Frame
from sitwell.shoot.journal import Stamp
from sitwell.shoot.read_frame import LOOK_SIDE_PX, Sitter, sitter_for
from sitwell.sort.reading import Held, Task, read_frame, read_in_workers
from sitwell.sort.sorting import Sorting

ROUNDS = 2


def make_frames(folder: Path, count: int, megapixels: float) -> None:
    """Grainy JPEGs of a rendered head at four turns, taken ten a second."""
    rng = np.random.default_rng(1)
    height = int((megapixels * 1e6 * 1.5) ** 0.5)
    size = (round(height / 1.5), height)
    for turn in range(4):
        picture = Image.fromarray(
            render(
                build_head(),
                pose_at(8.0 * turn, 0.0, 0.0, 1500.0),
                focal_px=2600.0,
                size_px=(640, 960),
                lights=[Light(azimuth_deg=35.0, elevation_deg=30.0)],
            )
        ).resize(size, Image.Resampling.BICUBIC)
        grain = rng.integers(-4, 5, (height, size[0], 1), dtype=np.int16)
        grainy = np.clip(np.asarray(picture, dtype=np.int16) + grain, 0, 255).astype(np.uint8)
        for number in range(turn, count, 4):
            exif = Image.Exif()
            moment = f"2026:01:01 10:{number // 600:02d}:{number // 10 % 60:02d}"
            exif.get_ifd(0x8769).update({36867: moment, 37521: str(number % 10)})
            Image.fromarray(grainy).save(
                folder / f"D_{number:04d}.jpg", quality=90, exif=exif, subsampling=2
            )


def bare_landmarker() -> Callable[[Path], None]:
    """Decoding one file at the needed size and the landmarker on it, nothing else."""
    from builders.references.reference_landmarker import reference_landmarker

    see = reference_landmarker()

    def work(path: Path) -> None:
        with Image.open(path) as image:
            factor = max(1, max(image.size) // LOOK_SIDE_PX)
            image.draft("RGB", (image.size[0] // factor, image.size[1] // factor))
            rgb = np.asarray(image)
        see(rgb)

    return work


@dataclass(frozen=True, slots=True, kw_only=True)
class Took:
    """Median seconds a file, by the clock and of this process's processor time."""

    clock_s: float
    processor_s: float

    def __str__(self) -> str:
        return f"{1000 * self.processor_s:5.0f} ms a frame ({1000 * self.clock_s:.0f} by the clock)"


def alternate(paths: list[Path], *works: Callable[[Path], object]) -> list[Took]:
    """What each work takes, file by file in turn, so that a busy machine hits all alike."""
    took: list[list[tuple[float, float]]] = [[] for _ in works]
    for path in [paths[0], *paths]:
        for times, work in zip(took, works, strict=True):
            start, start_s = time.perf_counter(), time.process_time()
            work(path)
            times.append((time.perf_counter() - start, time.process_time() - start_s))
    medians = ([statistics.median(column) for column in zip(*t[1:], strict=True)] for t in took)
    return [Took(clock_s=clock_s, processor_s=processor_s) for clock_s, processor_s in medians]


def _share(floor: Took, took: Took) -> str:
    return f"{floor.processor_s / took.processor_s:.2f} of the floor"


def scaling(paths: list[Path], held: Held, most: int) -> dict[int, float]:
    """Seconds a frame with one worker process and with ``most``, in turn, once they are settled.

    The best round counts, because whatever else runs on the machine can only slow a round down.
    """
    frames = [Frame(path=path) for path in paths * max(1, 120 // len(paths))]
    tasks = [
        Task(place=i, name=str(i), frame=frame, stamp=Stamp(0, 0)) for i, frame in enumerate(frames)
    ]
    best: dict[int, float] = {}
    for workers in (1, most) * ROUNDS:
        stamps = [time.perf_counter() for _ in read_in_workers(tasks, held, workers)]
        settled = len(stamps) // 3
        frame_s = (stamps[-1] - stamps[settled]) / (len(stamps) - 1 - settled)
        best[workers] = min(frame_s, best.get(workers, frame_s))
    return best


def main() -> None:
    """Print frames a second and the ratio to the floor."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--frames", type=int, default=40)
    parser.add_argument("--megapixels", type=float, default=24.0)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    held = Held(head=build_head(), setup=Setup(turn_deg=20.0))
    sitter = sitter_for(held.head, held.setup)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "card"
        folder.mkdir()
        make_frames(folder, asked.frames, asked.megapixels)
        paths = sorted(folder.iterdir())

        def sort_one(path: Path, held_against: Sitter | None = sitter) -> None:
            task = Task(place=0, name="", frame=Frame(path=path), stamp=Stamp(0, 0))
            read_frame(task, held_against)

        keep_memory_for_many()
        floor, planned, alone = alternate(
            paths, bare_landmarker(), sort_one, lambda path: sort_one(path, None)
        )
        print(f"{asked.megapixels:g} MP, {len(paths)} frames, {os.cpu_count()} cores, medians")
        print(f"floor:                {floor}")
        print(f"sorting with a plan:  {planned}, {_share(floor, planned)} (goal 0.8)")
        print(f"sorting without:      {alone}, {_share(floor, alone)}")
        for workers, frame_s in scaling(paths, held, asked.workers).items():
            print(f"{workers} worker(s): {1000 * frame_s:8.0f} ms a frame, settled, best of rounds")
        sorting = Sorting(folder, Path(name) / "index.sqlite", held=held)
        stamps = [time.perf_counter()]
        sorting.read(progress=lambda done, count: stamps.append(time.perf_counter()))
        print(f"first frame:  {1000 * (stamps[1] - stamps[0]):6.0f} ms after the start")
        for words, work in (
            ("nothing new:", lambda: sorting.read()),
            ("ranking:", lambda: list(sorting.bursts())),
        ):
            start = time.perf_counter()
            work()
            took_s = (time.perf_counter() - start) / len(paths)
            print(f"{words:13} {1000 * took_s:6.1f} ms a frame")


if __name__ == "__main__":
    main()
