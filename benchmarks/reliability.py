"""Watching, sorting and rating where the machine fails: real full disks, pulled folders, crowds.

    python -m benchmarks.reliability [--files 100000]

Small disks are mounted in memory, which asks for Linux and the right to mount (as root):

* a disk of 400 KB for our own state fills up while watching and while sorting, is made larger,
  and the work goes on: every frame recorded once;
* a card fills up with sidecars while rating, is made larger, and rating goes on: every sidecar
  whole;
* a card that is read-only is watched and sorted, and rating says so in one sentence;
* a card that is pulled while it is watched, and put back, loses no frame;
* 100,000 files on one card: how long watching and sorting take to go through them, and how much
  memory; what is looked at in a picture is left out, because it is not what is tried here.

Being killed is tried by the tests: ``SITWELL_KILLS=50 pytest tests/shoot/test_watch.py
tests/sort/test_killed.py -k "killed or lost"``.
"""

import argparse
import contextlib
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from PIL import Image

from benchmarks.bench_memory import made_up, resident_mb
from sitwell.base.errors import ShootError, SidecarError, SortError
from sitwell.shoot.journal import Journal
from sitwell.shoot.watch import Watch
from sitwell.sort.handover import rate
from sitwell.sort.packet import read_packet
from sitwell.sort.sorting import Sorting

FRAMES = 1200
SMALL, LARGE = "size=400k", "size=64m"


def make_card(card: Path, count: int, first: int = 0) -> None:
    """Small JPEGs, each of its own content."""
    card.mkdir(exist_ok=True)
    source = card.parent / "source.jpg"
    rng = np.random.default_rng(1)
    Image.fromarray(rng.integers(0, 256, (40, 40, 3), dtype=np.uint8)).save(source)
    data = source.read_bytes()
    source.unlink()
    for number in range(first, first + count):
        comment = b"%08d" % number
        marked = data[:2] + b"\xff\xfe\x00\x0a" + comment + data[2:]
        (card / f"D_{number:06d}.jpg").write_bytes(marked)


@contextlib.contextmanager
def mounted(place: Path, size: str) -> Iterator[Path]:
    """A small disk in memory."""
    place.mkdir(exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", size, "tmpfs", place], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", place], check=True)


def remount(place: Path, options: str) -> None:
    """Make a mounted disk larger, read-only or writable."""
    subprocess.run(["mount", "-o", f"remount,{options}", place], check=True)


def watched(card: Path, state: Path, count: int, report: str = "") -> None:
    """Watch until so many frames are recorded."""
    journal, stop = Journal(state, card), threading.Event()
    try:
        watch = Watch(card, journal, steady_s=0.05)
        for done, arrival in enumerate(watch.arrivals(stop), start=1 + _recorded(journal)):
            watch.done(arrival, report or arrival.frame.path.name)
            if done == count:
                return
    finally:
        journal.close()


def _recorded(journal: Journal) -> int:
    return sum(1 for _ in journal.entries())


def once_each(card: Path, state: Path, count: int) -> str:
    """Whether every frame of the card is in the journal, and once."""
    journal = Journal(state, card)
    names = [entry.name for entry in journal.entries()]
    journal.close()
    whole = sorted(names) == sorted(path.name for path in card.glob("*.jpg"))
    return f"{len(names)} of {count} recorded, {'each once' if whole else 'NOT EACH ONCE'}"


def sorting_of(card: Path, state: Path) -> Sorting:
    """A sorting whose frames are not looked at."""
    sorting = Sorting(card, state)
    sorting._reading = lambda todo, *_: ((t, made_up(t, t.place)) for t in todo)  # type: ignore[method-assign]
    return sorting


def refusal(work: Callable[[], object], *errors: type[Exception]) -> str:
    """The sentence with which a piece of work was refused."""
    try:
        work()
    except errors as error:
        return str(error)
    return "NOTHING WAS SAID"


def full_state(place: Path) -> Iterator[str]:
    """Our own disk fills up while watching and while sorting."""
    card = place / "card"
    make_card(card, FRAMES)
    with mounted(place / "state", SMALL) as state:
        journal = state / "watch.sqlite"
        report = "x" * 1000
        said = refusal(lambda: watched(card, journal, FRAMES, report), ShootError)
        yield f"watching, our disk full: {said}"
        remount(state, LARGE)
        watched(card, journal, FRAMES, report)
        yield f"  made larger: {once_each(card, journal, FRAMES)}"
    with mounted(place / "state", SMALL) as state:
        sorting = sorting_of(card, state / "sort.sqlite")
        said = refusal(sorting.read, SortError)
        yield f"sorting, our disk full: {said}"
        remount(state, LARGE)
        sorting.read()
        read = sum(1 for _ in sorting.index.frames())
        sorting.index.close()
        yield f"  made larger: {read} of {FRAMES} read"


def full_card(place: Path) -> Iterator[str]:
    """The card fills up with sidecars, then may not be written at all."""
    with mounted(place / "small", "size=6m") as disk:
        card = disk / "card"
        make_card(card, 1000)
        sorting = sorting_of(card, place / "rate.sqlite")
        sorting.read()
        remount(disk, f"size={_used_kb(disk) + 200}k")
        said = refusal(lambda: list(rate(sorting)), SidecarError)
        yield f"rating, the card full after {_whole_sidecars(card)} sidecars: {said}"
        remount(disk, "ro")
        again = sorting_of(card, place / "again.sqlite")
        yield f"read-only: {again.read()} frames sorted; rating: " + refusal(
            lambda: list(rate(sorting)), SidecarError
        )
        watched(card, place / "ro.sqlite", 1000)
        yield f"  watched: {once_each(card, place / 'ro.sqlite', 1000)}"
        remount(disk, f"rw,{LARGE}")
        list(rate(sorting))
        forward = sum(1 for burst in sorting.bursts() if burst.best)
        sorting.index.close()
        again.index.close()
        left = sum(1 for _ in card.glob(".*"))
        yield f"  made larger: {_whole_sidecars(card)} whole sidecars of {forward}, {left} torn"


def _used_kb(disk: Path) -> int:
    told = subprocess.run(["df", "--output=used", disk], capture_output=True, text=True, check=True)
    return int(told.stdout.split()[-1])


def _whole_sidecars(card: Path) -> int:
    return sum(read_packet(path.read_bytes()).rating is not None for path in card.glob("D_*.xmp"))


def pulled(place: Path) -> Iterator[str]:
    """The card is pulled in the middle of watching and put back twenty times."""
    card, behind = place / "pulled", place / "behind"
    card.mkdir()
    behind.mkdir()
    state, stop = place / "pulled.sqlite", threading.Event()
    subprocess.run(["mount", "--bind", behind, card], check=True)

    def watch() -> None:
        journal = Journal(state, card)
        watching = Watch(card, journal, steady_s=0.05)
        for arrival in watching.arrivals(stop):
            watching.done(arrival, "seen")
        journal.close()

    thread = threading.Thread(target=watch)
    thread.start()
    count = 0
    for _ in range(20):
        time.sleep(0.2)
        make_card(behind, 10, count)
        count += 10
        time.sleep(0.1)
        subprocess.run(["umount", "-l", card], check=True)
        time.sleep(0.3)
        subprocess.run(["mount", "--bind", behind, card], check=True)
    ends = time.monotonic() + 60
    while time.monotonic() < ends and not _all_seen(card, state, count):
        time.sleep(0.2)
    stop.set()
    thread.join()
    yield f"pulled 20 times while watched: {once_each(card, state, count)}"
    subprocess.run(["umount", "-l", card], check=True)


def _all_seen(card: Path, state: Path, count: int) -> bool:
    journal = Journal(state, card)
    seen = _recorded(journal)
    journal.close()
    return seen >= count


def crowd(place: Path, count: int) -> Iterator[str]:
    """Very many files on one card."""
    card = place / "crowd"
    make_card(card, count)
    begun, before = time.perf_counter(), resident_mb()
    watched(card, place / "crowd.sqlite", count)
    told = once_each(card, place / "crowd.sqlite", count)
    took_s, grew = time.perf_counter() - begun, resident_mb() - before
    yield f"watching {count} files: {took_s:.0f} s, {grew:.0f} MB more; {told}"
    begun, before = time.perf_counter(), resident_mb()
    sorting = sorting_of(card, place / "crowd-sort.sqlite")
    sorting.read()
    bursts = sum(1 for _ in sorting.bursts())
    sorting.index.close()
    took_s, grew = time.perf_counter() - begun, resident_mb() - before
    yield f"sorting {count} files: {took_s:.0f} s, {grew:.0f} MB more; {bursts} bursts"


def main() -> None:
    """Print what each failure brought."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--files", type=int, default=100_000)
    asked = parser.parse_args()
    for work in (full_state, full_card, pulled, lambda place: crowd(place, asked.files)):
        with tempfile.TemporaryDirectory() as name:
            for line in work(Path(name)):
                print(line, flush=True)


if __name__ == "__main__":
    main()
