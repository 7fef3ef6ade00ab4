"""Whether memory stays flat over a long sitting.

    python -m benchmarks.bench_memory [--records 20000] [--frames 1200]

Two parts, because reading 20,000 real frames would take an hour:

* ``--records`` made-up readings go through the whole of sorting but the reading itself: index,
  bursts, ranking, order as JSON and CSV;
* ``--frames`` small rendered JPEGs are really decoded, looked at and recorded in this process.

What counts is how much the process grew between the first tenth and the end.
"""

import argparse
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.bench_sort import make_frames
from sitwell.shoot.frame_facts import Sight
from sitwell.shoot.journal import Stamp
from sitwell.sort.handover import write_csv, write_json
from sitwell.sort.index import ReadFrame
from sitwell.sort.reading import Task
from sitwell.sort.sorting import Sorting

MEGAPIXELS = 0.3


def resident_mb() -> float:
    """Memory of this process now, in megabytes (Linux)."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    raise RuntimeError("This system does not tell a process's memory.")


def made_up(task: Task, number: int) -> ReadFrame:
    """A reading like a real one in size, in bursts of four."""
    eye = 0.3 - 0.02 * (number % 4)
    sight = Sight(
        faces=1,
        eye_open={"own_left": eye, "own_right": eye},
        gaze_deg=(0.0, 5.0),
        focus={"near_eye": 1.0, "far_eye": 0.9, "ear": 0.5, "background": 0.1},
        box=(0.3, 0.3, 0.6, 0.7),
        heights={"top": 2.0, "bottom": -1.0},
    )
    return ReadFrame(
        name=task.name,
        master=task.name,
        stamp=Stamp(1, number),
        taken_s=number // 4 * 30.0 + number % 4 * 0.2,
        look=bytes((number // 4 * 7 + i * (number // 4 % 5 + 1)) % 256 for i in range(256)),
        sights=(sight,),
    )


def over_records(place: Path, count: int) -> tuple[float, float, int]:
    """Megabytes after a tenth and at the end, and how many bursts, over made-up readings."""
    card = place / "card"
    card.mkdir()
    for number in range(count):
        (card / f"D_{number:06d}.jpg").touch()
    sorting = Sorting(card, place / "i.sqlite")
    sorting._reading = lambda todo, *_: ((t, made_up(t, t.place)) for t in todo)  # type: ignore[method-assign]
    early = [0.0]

    def watch(done: int, of: int) -> None:
        if done == of // 10:
            early[0] = resident_mb()

    sorting.read(progress=watch)
    bursts = sum(1 for _ in sorting.bursts())
    write_json(place / "order.json", sorting)
    write_csv(place / "order.csv", sorting)
    sorting.index.close()
    return early[0], resident_mb(), bursts


def over_frames(place: Path, count: int) -> tuple[float, float]:
    """Megabytes after a tenth and at the end of really reading frames in this process."""
    card = place / "frames"
    card.mkdir()
    make_frames(card, count, MEGAPIXELS)
    sizes: list[float] = []
    sorting = Sorting(card, place / "f.sqlite")
    sorting.read(workers=1, progress=lambda *_: sizes.append(resident_mb()))
    sorting.index.close()
    return max(sizes[: len(sizes) // 10]), sizes[-1]


def _parts(asked: argparse.Namespace, place: Path) -> Iterator[str]:
    early, late, bursts = over_records(place, asked.records)
    yield (
        f"{asked.records} made-up readings, {bursts} bursts: {early:.0f} MB after a tenth, "
        f"{late:.0f} MB at the end"
    )
    early, late = over_frames(place, asked.frames)
    yield (
        f"{asked.frames} frames of {MEGAPIXELS:g} MP really read: {early:.0f} MB after a tenth, "
        f"{late:.0f} MB at the end"
    )


def main() -> None:
    """Print both parts."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--records", type=int, default=20_000)
    parser.add_argument("--frames", type=int, default=1200)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        for line in _parts(asked, Path(name)):
            print(line, flush=True)


if __name__ == "__main__":
    main()
